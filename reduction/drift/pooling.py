"""Scatter learnt from several benches and past phases, with the degrees of freedom it deserves.

One bench gives too few values to know its own scatter, so all benches are asked. Where they
differ among themselves (one is noisier), the common figure is worth fewer degrees of freedom and
each bench's own scatter counts for more.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import exp, inf, log, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import digamma, polygamma

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Scatter:
    """A standard deviation, any unit, and its degrees of freedom; 0 degrees say nothing known."""

    sd: float
    degrees: float

    def __post_init__(self) -> None:
        if not (0.0 <= self.sd < inf and 0.0 <= self.degrees < inf):
            raise ValueError(
                f"Scatter {self.sd:g} with {self.degrees:g} degrees of freedom: expected two "
                "finite figures, neither below zero. Check the values it was found from."
            )

    def scaled(self, factor: float) -> "Scatter":
        """The same scatter in another unit, as from a fraction of the mean to J/K."""
        return Scatter(self.sd * factor, self.degrees)


UNKNOWN = Scatter(0.0, 0.0)


def scatter_about_mean(values: ArrayLike) -> Scatter:
    """`s² = Σ(x − x̄)²/(n − 1)`, n − 1 degrees; unknown below two values."""
    x = np.asarray(values, dtype=float)
    return Scatter(float(x.std(ddof=1)), x.size - 1.0) if x.size > 1 else UNKNOWN


def scatter_of_differences(values: ArrayLike) -> Scatter:
    """`s² = Σ(x_{i+1} − x_i)²/(2(n − 1))`, which a slow drift or one step hardly widens.

    Degrees of freedom `2(n − 1)²/(3n − 4)`, by the variance of s² for normal values (the mean
    square successive difference of von Neumann 1941, from memory). Unknown below two values.
    """
    x = np.asarray(values, dtype=float)
    n = x.size
    if n < 2:
        return UNKNOWN
    sd = sqrt(float(np.square(np.diff(x)).mean()) / 2.0)
    return Scatter(sd, 2.0 * (n - 1) ** 2 / (3 * n - 4))


def pooled(scatters: Iterable[Scatter]) -> Scatter:
    """`s² = Σν_k·s_k²/Σν_k`, `ν = Σν_k`: phases of one bench, taken to scatter alike."""
    known = [s for s in scatters if s.degrees > 0.0]
    degrees = sum(s.degrees for s in known)
    if not known:
        return UNKNOWN
    return Scatter(sqrt(sum(s.degrees * s.sd**2 for s in known) / degrees), degrees)


def shared(benches: Sequence[Scatter]) -> Scatter:
    """What all benches' scatter says of any one of them: sd in their unit, with its degrees.

    The log-variances `e = ln s² − ψ(ν/2) + ln(ν/2)` of K benches vary by ψ′(ν/2) when all scatter
    alike. What they vary more is set equal to `ψ′(d₀/2)`; then `s₀² = exp(ē + ψ(d₀/2) − ln(d₀/2))`
    is worth d₀ degrees. Benches that do not differ are simply pooled. The result never claims more
    than Σν: `1/ν₀ = 1/d₀ + 1/Σν`. Benches without scatter, or with none but equal values, are left
    out. Source: Smyth, Stat. Appl. Genet. Mol. Biol. 3 (2004) article 3, section 6 (from memory).
    """
    known = [s for s in benches if s.degrees > 0.0 and s.sd > 0.0]
    common = pooled(known)
    prior, log_variance = _spread_between(known)
    if prior == inf:
        return common
    sd = exp((log_variance + float(digamma(prior / 2.0)) - log(prior / 2.0)) / 2.0)
    return Scatter(sd, 1.0 / (1.0 / prior + 1.0 / common.degrees))


def _spread_between(known: Sequence[Scatter]) -> tuple[float, float]:
    """Degrees d₀ left by the differences between benches, and the mean log-variance ē."""
    if len(known) < 2:
        return inf, 0.0
    halves = np.array([s.degrees for s in known]) / 2.0
    logs = np.log([s.sd**2 for s in known]) - digamma(halves) + np.log(halves)
    excess = float(logs.var(ddof=1) - polygamma(1, halves).mean())
    return (2.0 * _inverse_trigamma(excess) if excess > 0.0 else inf), float(logs.mean())


def _inverse_trigamma(target: float) -> float:
    """The y with ψ′(y) = target > 0, by Newton steps on 1/ψ′, which is nearly straight."""
    y = 0.5 + 1.0 / target
    for _ in range(50):
        value = float(polygamma(1, y))
        step = value * (1.0 - value / target) / float(polygamma(2, y))
        y += step
        if abs(step) < 1e-10 * y:
            break
    return y


def combined_variance(pool_sd: Array, pool_degrees: Array, n: Array, squares: Array) -> Array:
    """`(ν₀s₀² + Σ(x − x̄)²)/(ν₀ + n − 1)` of n own values, n ≥ 1; NaN where nothing is known.

    Arrays of one shape: pool sd [unit of x] with its degrees ν₀, and the own sum of squares.
    """
    degrees = pool_degrees + n - 1.0
    total = pool_degrees * pool_sd**2 + squares
    unknown = np.full(degrees.shape, np.nan)
    return np.asarray(np.divide(total, degrees, out=unknown, where=degrees > 0.0), dtype=float)

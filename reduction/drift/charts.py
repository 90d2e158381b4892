"""The textbook charts: individuals with moving range, EWMA, tabular CUSUM, and the run rules.

Each works along the last axis, so one series of shape (n,) and many of shape (series, n) take the
same code. Values are in any unit, the same for every argument of a call.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

D2 = 1.128
"""Mean range of two values with s = 1, rounded as the e-Handbook rounds it (6.3.2.2)."""

RANGE_LIMIT = 3.267
"""Upper limit of the moving range over its mean, D4 of two values (common practice, no source)."""

RUN_RULES = ((1, 1, 3.0), (2, 3, 2.0), (4, 5, 1.0), (8, 8, 0.0))
"""So many of so many in a row beyond so many sigma on one side (the four classical rules)."""


@dataclass(frozen=True)
class Individuals:
    """Central line, mean moving range, limits of the values and of the ranges; shape (...)."""

    mean: Array
    mean_range: Array
    lower: Array
    upper: Array
    range_upper: Array

    @property
    def sigma(self) -> Array:
        """Standard deviation by the moving range, `MR̄/d₂`."""
        return np.asarray(self.mean_range / D2)


@dataclass(frozen=True)
class Ewma:
    """Weighted means and their limits, one for each value; `signals` marks those beyond."""

    values: Array
    lower: Array
    upper: Array

    @property
    def signals(self) -> Flags:
        return np.asarray((self.values > self.upper) | (self.values < self.lower))


@dataclass(frozen=True)
class Cusum:
    """Sums of what lies above and below the target; `signals` marks those beyond h."""

    above: Array
    below: Array
    h: Array

    @property
    def signals(self) -> Flags:
        return np.asarray((self.above > self.h) | (self.below > self.h))


def individuals(values: ArrayLike) -> Individuals:
    """`x̄ ± 3·MR̄/1.128`, MR̄ the mean of |x_i − x_{i−1}|; values of shape (..., n), n ≥ 2.

    Raises ValueError below two values. Source: NIST/SEMATECH e-Handbook 6.3.2.2.
    """
    x = np.asarray(values, dtype=float)
    if x.ndim == 0 or x.shape[-1] < 2:
        raise ValueError(f"{x.size} value: a moving range needs at least two. Wait for the next.")
    mean, mean_range = x.mean(-1), np.abs(np.diff(x)).mean(-1)
    half = 3.0 * mean_range / D2
    return Individuals(mean, mean_range, mean - half, mean + half, RANGE_LIMIT * mean_range)


def ewma(
    values: ArrayLike,
    start: ArrayLike,
    sigma: ArrayLike,
    weight: float = 0.3,
    width: float = 3.0,
    exact: bool = False,
) -> Ewma:
    """`z_i = λx_i + (1 − λ)z_{i−1}` with limits `start ± k·σ·√(λ/(2 − λ))`.

    Values of shape (..., n), start and sigma of shape (...), weight λ in (0, 1], width k in
    sigma. With `exact` the variance of z_i carries `1 − (1 − λ)^{2i}`, which the asymptotic
    limits leave out. Raises ValueError for a weight out of range. Source: NIST/SEMATECH
    e-Handbook 6.3.2.4.
    """
    if not 0.0 < weight <= 1.0:
        raise ValueError(f"Weight {weight:g}: expected above 0 and at most 1, usually 0.2 to 0.3.")
    x, centre = np.asarray(values, dtype=float), np.asarray(start, dtype=float)
    z, last = np.empty_like(x), centre
    for i in range(x.shape[-1]):
        last = weight * x[..., i] + (1.0 - weight) * last
        z[..., i] = last
    steps = np.arange(1, x.shape[-1] + 1)
    settling = 1.0 - (1.0 - weight) ** (2 * steps) if exact else np.ones(steps.size)
    share = np.sqrt(weight / (2.0 - weight) * settling)
    half = width * np.asarray(sigma, dtype=float)[..., None] * share
    return Ewma(z, centre[..., None] - half, centre[..., None] + half)


def cusum(values: ArrayLike, target: ArrayLike, k: ArrayLike, h: ArrayLike) -> Cusum:
    """`S_hi = max(0, S_hi + x − target − k)` and `S_lo = max(0, S_lo + target − k − x)`.

    Values of shape (..., n); target, allowance k and decision interval h of shape (...), all in
    the unit of the values. Source: NIST/SEMATECH e-Handbook 6.3.2.3.
    """
    x, allowance = np.asarray(values, dtype=float), np.asarray(k, dtype=float)
    deviations = x - np.asarray(target, dtype=float)[..., None]
    above, below = np.empty_like(x), np.empty_like(x)
    high = low = np.zeros(x.shape[:-1])
    for i in range(x.shape[-1]):
        high = np.maximum(0.0, high + deviations[..., i] - allowance)
        low = np.maximum(0.0, low - deviations[..., i] - allowance)
        above[..., i], below[..., i] = high, low
    return Cusum(above, below, np.asarray(h, dtype=float)[..., None])


def run_rules(standardized: ArrayLike) -> Flags:
    """Where one of the four classical run rules speaks, for values in sigma from the centre.

    One beyond 3, two of three beyond 2, four of five beyond 1, eight in a row on one side; shape
    (..., n). The first values have only themselves and those before them to count. Four rules,
    as usually printed (from memory).
    """
    z = np.asarray(standardized, dtype=float)
    spoken = np.zeros(z.shape, dtype=bool)
    for side in (z, -z):
        for needed, window, limit in RUN_RULES:
            spoken |= _count_in_window(side > limit, window) >= needed
    return spoken


def _count_in_window(flags: Flags, window: int) -> NDArray[np.int64]:
    """How many of the last `window` flags are set, at every position of the last axis."""
    total = np.cumsum(flags, axis=-1, dtype=np.int64)
    count = total.copy()
    count[..., window:] -= total[..., :-window]
    return count

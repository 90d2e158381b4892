"""The scheme a bench is judged by: its rules, the baseline, and the limits that follow.

An estimated baseline of few values is not the truth. The limits therefore come from Student's t
with the degrees of freedom of the pooled scatter, and widen by what n values leave open.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, stdtrit

Array = NDArray[np.float64]

STATES = ("steady", "watch", "out of line")
TOO_FEW = "too few points"


@dataclass(frozen=True)
class Rules:
    """How a bench is judged. `indifference` and `floor` are fractions of the baseline's mean.

    The first `fewest` accepted values are not judged; the baseline then grows with values found
    steady until it holds `baseline_points`. `coverage` is the one-sided probability of the
    prediction limit, `weight` the λ and `width` the L of the EWMA. The floor of the scatter is
    common practice, no source; laboratories set their own. Raises ValueError out of range.
    """

    fewest: int = 3
    baseline_points: int = 8
    coverage: float = 0.99865
    weight: float = 0.3
    width: float = 2.9
    indifference: float = 0.005
    floor: float = 0.0005

    def __post_init__(self) -> None:
        if not 2 <= self.fewest <= self.baseline_points:
            raise ValueError(
                f"A baseline from {self.fewest} to {self.baseline_points} values: expected at "
                "least 2 to begin with, and no fewer at the end. Correct the bench's rules."
            )
        shares = 0.5 < self.coverage < 1.0 and 0.0 < self.weight <= 1.0
        if not (shares and self.width > 0.0 and min(self.indifference, self.floor) >= 0.0):
            raise ValueError(
                f"{self}: expected a coverage between 0.5 and 1, a weight above 0 and at most 1, "
                "a width above 0, indifference and floor not below 0. Correct the bench's rules."
            )


@dataclass(frozen=True)
class Baseline:
    """What later values are held against: n values, mean and scatter [J/K], degrees of freedom.

    `sd` is the scatter used, pooled and not below the floor, or that of the bench's own runs where
    it makes the wider limit: kept as it stands, these four figures give the same limits for good.
    """

    n: int
    mean: float
    sd: float
    degrees: float

    def __post_init__(self) -> None:
        if not (self.n >= 1 and self.sd >= 0.0 and self.degrees > 0.0):
            raise ValueError(
                f"Baseline of {self.n} values, sd {self.sd:g} with {self.degrees:g} degrees of "
                "freedom: expected at least one value and one degree. Freeze a judged baseline."
            )

    def limits(self, rules: Rules) -> tuple[float, float]:
        """Lower and upper limit [J/K] of the next value, the indifference region included."""
        quantile = float(point_quantile(self.degrees, rules))
        half = quantile * self.sd * float(np.sqrt(1.0 + 1.0 / self.n))
        half = max(half, rules.indifference * abs(self.mean))
        return self.mean - half, self.mean + half


def point_quantile(degrees: ArrayLike, rules: Rules) -> Array:
    """`t_{coverage,ν}` of the prediction limit `x̄ ± t·s·√(1 + 1/n)`; any shape, ν > 0."""
    return np.asarray(stdtrit(degrees, rules.coverage))


def ewma_quantile(degrees: ArrayLike, rules: Rules) -> Array:
    """Student's t with the tail probability that ±L has for a normal value; any shape, ν > 0."""
    return np.asarray(stdtrit(degrees, float(ndtr(rules.width))))


def ewma_variance(steps: ArrayLike, n: int, weight: float) -> Array:
    """Variance of the EWMA about the mean of n baseline values, in units of σ².

    `λ/(2 − λ)·(1 − (1 − λ)^{2i}) + (1 − (1 − λ)^i)²/n` after i values, none of them in the
    baseline: the sum of squared weights, and the share of the mean's own variance. [computed]
    """
    i = np.asarray(steps, dtype=float)
    left = (1.0 - weight) ** i
    return np.asarray(weight / (2.0 - weight) * (1.0 - left**2) + (1.0 - left) ** 2 / n)

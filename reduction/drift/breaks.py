"""What happened in a series: one step, a slow drift, or neither; when, and how much.

Four pictures of the same values are weighed: one level, two levels parted by a step at an unknown
place, and a straight line in time. Each is charged for what it leaves unexplained and for what it
was free to choose.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import log, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import logsumexp, stdtrit

from reduction.drift.pooling import Scatter
from reduction.drift.words import change, interval_of_size, quantity

Array = NDArray[np.float64]

FEWEST = 4
DECISIVE = 2.0
"""Two pictures whose cost differs by less cannot be told apart (common practice, no source)."""

DAYS_IN_YEAR = 365.25
"""A Julian year, by definition."""


@dataclass(frozen=True)
class Step:
    """A change of level: between which days, by how much, with 95 % intervals [days, J/K].

    `index` is that of the first value after the most likely place, among all values given;
    `probability` holds the probability of a step right before each value, shape (n,).
    """

    index: int
    earliest: float
    latest: float
    size: float
    size_lower: float
    size_upper: float
    probability: Array


@dataclass(frozen=True)
class Slope:
    """A slow drift [J/K per day] with its 95 % interval."""

    per_day: float
    lower: float
    upper: float


@dataclass(frozen=True)
class Break:
    """What most likely happened, with the figures of both pictures and a sentence.

    `kind` is "step", "slow drift", "step or slow drift" where they cannot be told apart, "none",
    or "too few points", which leaves both pictures None.
    """

    kind: str
    step: Step | None
    slope: Slope | None
    reason: str


@dataclass(frozen=True)
class _Series:
    """Accepted values about their mean [J/K], days, their places, and the scatter."""

    x: Array
    days: Array
    places: NDArray[np.int64]
    length: int
    mean: float
    scatter: Scatter

    def misfit(self, squares: Array | float) -> Array:
        """`(ν + n)·ln(1 + RSS/(νσ²))`, RSS/σ² for a well-known scatter (Student's t)."""
        known = self.scatter.degrees
        return np.asarray((known + self.x.size) * np.log1p(squares / (known * self.scatter.sd**2)))

    @property
    def t(self) -> float:
        """Two-sided 95 % quantile of Student's t at the degrees of the scatter."""
        return float(stdtrit(self.scatter.degrees, 0.975))


def find_break(
    values: ArrayLike,
    scatter: Scatter,
    days: ArrayLike | None = None,
    excluded: ArrayLike | None = None,
    date: Callable[[float], str] | None = None,
) -> Break:
    """The most likely break in values [J/K] of shape (n,), given their scatter [J/K].

    `days` are their dates as numbers in order (places 0, 1, 2 … where left out), `excluded` marks
    values left out; `date` writes a day in the sentence. The place k of a step has probability
    `∝ e^{−misfit_k/2}/√(n₁n₂)`, both levels integrated out with flat priors; the interval covers
    the places that hold 95 %. Raises ValueError for an unknown scatter or days out of order.
    """
    if not (scatter.sd > 0.0 and scatter.degrees > 0.0):
        raise ValueError(
            f"Scatter {scatter.sd:g} with {scatter.degrees:g} degrees of freedom: a break needs a "
            "scatter above zero. Pool it over benches and past phases."
        )
    series = _series(values, scatter, days, excluded)
    if series.x.size < FEWEST:
        reason = f"{series.x.size} values: at least {FEWEST} are needed to look for a break."
        return Break("too few points", None, None, reason)
    step, cost_of_step = _step(series)
    slope, cost_of_slope = _slope(series)
    cost_of_level = float(series.misfit(float(np.square(series.x).sum()))) + log(series.x.size)
    kind = _kind(cost_of_level, cost_of_step, cost_of_slope)
    return Break(kind, step, slope, _reason(kind, step, slope, series, date))


def _series(
    values: ArrayLike, scatter: Scatter, days: ArrayLike | None, excluded: ArrayLike | None
) -> _Series:
    x = np.asarray(values, dtype=float)
    when = np.arange(float(x.size)) if days is None else np.asarray(days, dtype=float)
    if when.shape != x.shape or not bool((np.diff(when) >= 0.0).all()):
        raise ValueError(
            f"Days of shape {when.shape} for values of shape {x.shape}: expected one day a value, "
            "none earlier than the one before. Sort the values by date."
        )
    left_out = np.zeros(x.size, bool) if excluded is None else np.asarray(excluded, dtype=bool)
    places = np.flatnonzero(~left_out)
    kept = x[places]
    mean = float(kept.mean()) if kept.size else 0.0
    return _Series(kept - mean, when[places], places, x.size, mean, scatter)


def _step(series: _Series) -> tuple[Step, float]:
    """The step with its intervals, and its cost: two levels, and a place looked for."""
    x, n = series.x, series.x.size
    before = np.arange(1.0, n)
    after, sums = n - before, np.cumsum(x)[:-1]
    sizes = -sums * n / (before * after)
    squares = np.square(x).sum() - sizes**2 * before * after / n
    logs = -series.misfit(np.maximum(squares, 0.0)) / 2.0
    weights = logs - np.log(before * after) / 2.0
    probability = np.exp(weights - logsumexp(weights))
    likely = _likely(probability)
    mean = float(probability @ sizes)
    variance = series.scatter.sd**2 * n / (before * after) + (sizes - mean) ** 2
    half = series.t * sqrt(float(probability @ variance))
    everywhere = np.zeros(series.length)
    everywhere[series.places[1:]] = probability
    step = Step(
        int(series.places[1 + int(probability.argmax())]),
        float(series.days[likely[0]]),
        float(series.days[likely[-1] + 1]),
        mean,
        mean - half,
        mean + half,
        everywhere,
    )
    return step, -2.0 * float(logsumexp(logs) - log(n - 1)) + 2.0 * log(n)


def _likely(probability: Array) -> NDArray[np.int64]:
    """The most probable places that together hold 95 %, in order."""
    order = np.argsort(-probability, kind="stable")
    needed = int(np.searchsorted(np.cumsum(probability[order]), 0.95)) + 1
    return np.sort(order[:needed])


def _slope(series: _Series) -> tuple[Slope | None, float]:
    """Least squares on the days, and its cost: level and slope; None when all fall on one day."""
    t = series.days - series.days.mean()
    spread = float(t @ t)
    squares = float(series.x @ series.x)
    if spread == 0.0:
        return None, float("inf")
    slope = float(t @ series.x) / spread
    half = series.t * series.scatter.sd / sqrt(spread)
    misfit = float(series.misfit(max(squares - slope**2 * spread, 0.0)))
    return Slope(slope, slope - half, slope + half), misfit + 2.0 * log(series.x.size)


def _kind(level: float, step: float, slope: float) -> str:
    if level <= min(step, slope):
        return "none"
    if abs(step - slope) < DECISIVE:
        return "step or slow drift"
    return "step" if step < slope else "slow drift"


def _reason(
    kind: str,
    step: Step,
    slope: Slope | None,
    series: _Series,
    date: Callable[[float], str] | None,
) -> str:
    if kind == "none":
        return (
            f"No break stands out of the scatter in these {series.x.size} values: one level, "
            f"{quantity(series.mean, series.scatter.sd)}, explains them."
        )
    write = date or "day {:g}".format
    stepped = _step_in_words(step, series, write)
    if kind == "step" or slope is None:
        return f"{stepped} Look at what was changed at that time."
    drifted = _drift_in_words(slope, series, write)
    if kind == "slow drift":
        return f"{drifted} Look at what wears: thermometer, stirrer, seals."
    return f"Either a step or a slow drift; more values will tell. {stepped} {drifted}"


def _step_in_words(step: Step, series: _Series, write: Callable[[float], str]) -> str:
    moved = "up" if step.size > 0.0 else "down"
    interval = interval_of_size(step.size_lower, step.size_upper)
    return (
        f"The level most likely stepped {moved} by {change(step.size, series.mean)}, 95 % interval "
        f"{interval}, between {write(step.earliest)} and {write(step.latest)}."
    )


def _drift_in_words(slope: Slope, series: _Series, write: Callable[[float], str]) -> str:
    moved = "rose" if slope.per_day > 0.0 else "fell"
    a_year = [DAYS_IN_YEAR * x for x in (slope.per_day, slope.lower, slope.upper)]
    return (
        f"The level most likely {moved} slowly, by {change(a_year[0], series.mean)} a year, "
        f"95 % interval {interval_of_size(a_year[1], a_year[2])}, from "
        f"{write(float(series.days[0]))} to {write(float(series.days[-1]))}."
    )

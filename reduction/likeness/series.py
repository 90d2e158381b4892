"""Two runs whose readings are one series: copied, shifted, offset, partly altered, or with noise.

Two ways, each for what the other cannot see. The *steps* of the readings, in units of the
thermometer's step, agree all along where one series was copied, however the whole was shifted in
time or temperature. The *scatter* about the smooth curve is chance and cannot agree between two
runs; it still does where noise was put upon a copy.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import exp
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from reduction import likeness
from reduction.likeness.chance import agreeing_bound
from reduction.likeness.passages import Passages, shared_passages

Array = NDArray[np.float64]
Steps = NDArray[np.int64]
Floats = NDArray[np.floating[Any]]

NEIGHBOURS = 4
"""Steps before and after, from which it is taken how many values a step might have had."""
FEWEST_READINGS = 20
LEAST_OVERLAP = 0.3
"""Of the shorter series."""
LEAST_CHANCE = 0.35
"""Never less of the steps is taken to agree by chance."""
LEAST_SHARE = 0.75
"""Of the steps, below which two series are not called alike; a tenth altered leaves 0.8."""
RARE = 0.9
"""The share that so many of the runs which have nothing to do with each other stay below."""
OTHERS = 12
"""Runs that either run is held against to learn how much agrees by chance."""
SHIFTS = 40
"""Readings by which a noisy copy may be shifted, either way."""
WIDTH = 3
"""Neighbours on either side that a reading's scatter is taken about."""
LIVELY = 0.6
"""Scatter of fewer steps is rounding's, which follows from the slope and may well agree."""
DEPENDENCE = 1.5
"""Scatter of neighbouring readings is shared: n of them tell as much as n/1.5."""


@dataclass(frozen=True, eq=False)
class Series:
    """The readings of a run in order of time: time [s], temperature [°C], step [K], shape (n,)."""

    run: int
    time_s: Array
    temperature_c: Array
    step_k: float

    @cached_property
    def steps(self) -> Steps:
        """From each reading to the next, in whole steps of the thermometer, shape (n − 1,)."""
        return np.rint(np.diff(self.temperature_c) / self.step_k).astype(np.int64)

    @cached_property
    def surprise(self) -> Array:
        """How surprising an agreement with each step is: −ln of its chance, shape (n − 1,).

        The chance is that two steps from the neighbourhood agree: 1 where nothing moves, small in
        the main period, where every step differs from the last.
        """
        padded = np.pad(self.steps, NEIGHBOURS, mode="reflect")
        around = np.lib.stride_tricks.sliding_window_view(padded, 2 * NEIGHBOURS + 1)
        alike = (around[:, :, None] == around[:, None, :]).mean(axis=(1, 2))
        return np.asarray(-np.log(alike))

    @cached_property
    def interval_s(self) -> float:
        return float(np.median(np.diff(self.time_s)))

    @cached_property
    def steepest(self) -> int:
        """The place of the largest step: the firing, by which honest runs are laid together."""
        return int(np.abs(self.steps).argmax())

    @cached_property
    def scatter(self) -> Array:
        """Each reading's distance from its neighbours in its own standard deviations, shape (n,).

        0 where the curve bends (the main period), all 0 where rounding hides the noise.
        """
        left = _about_neighbours(self.time_s, self.temperature_c)
        spread = 1.4826 * float(np.median(np.abs(left)))
        if spread < LIVELY * self.step_k:
            return np.zeros_like(left)
        smooth = np.convolve(left, np.full(2 * WIDTH + 1, 1 / (2 * WIDTH + 1)), mode="same")
        steady = (np.abs(left) < 4.0 * spread) & (np.abs(smooth) < spread)
        return np.asarray(np.where(steady, (left - smooth) / spread, 0.0))


def _about_neighbours(t: Array, y: Array) -> Array:
    """The mean distance [K] from straight lines between the 1st, 2nd and 3rd neighbours."""
    left = np.zeros_like(y)
    inner = slice(WIDTH, y.size - WIDTH)
    for away in range(1, WIDTH + 1):
        before, after = slice(WIDTH - away, y.size - WIDTH - away), slice(WIDTH + away, None)
        if away < WIDTH:
            after = slice(WIDTH + away, away - WIDTH)
        span = t[after] - t[before]
        weight = np.divide(t[inner] - t[before], span, out=np.full(span.shape, 0.5), where=span > 0)
        left[inner] += (y[inner] - (1.0 - weight) * y[before] - weight * y[after]) / WIDTH
    return left


@dataclass(frozen=True)
class SeriesAlike:
    """Two series, the second laid `shift` readings later than the first.

    share: of the steps, weighted by how telling they are; correlation: of the scatter, or None.
    offset_k: the second minus the first in temperature. expected: pairs so alike by chance.
    """

    runs: tuple[int, int]
    shift: int
    readings: int
    share: float
    correlation: float | None
    offset_k: float
    expected: float


def alike_series(series: Sequence[Series], level: float = likeness.SERIES) -> list[SeriesAlike]:
    """Pairs of runs whose readings agree as independent readings do not, the rarest first.

    Told where chance gives fewer than `level` pairs in the term, half of it for either way.
    """
    usable = [one for one in series if one.time_s.size >= FEWEST_READINGS and one.step_k > 0]
    found = [*_by_steps(usable, level / 2), *_by_scatter(usable, level / 2)]
    best: dict[tuple[int, int], SeriesAlike] = {}
    for one in sorted(found, key=lambda one: one.expected):
        best.setdefault(one.runs, one)
    return list(best.values())


# --- by steps ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Agreement:
    """How far two series agree at a shift; share of the surprise, and trials it is worth."""

    share: float
    trials: float
    readings: int
    offset_k: float


def _by_steps(series: Sequence[Series], level: float) -> Iterator[SeriesAlike]:
    """Pairs with passages in common are laid together at the shift most passages ask for.

    The bound takes steps as independent and the shift as given; that neither holds is made up for
    by `LEAST_SHARE` and by what the same runs share with others, as simulated terms show.
    """
    comparisons = len(series) * (len(series) - 1) / 2
    passages = [Passages(one.steps, one.surprise) for one in series]
    for (first, second), shift in shared_passages(passages).items():
        one, other = series[first], series[second]
        agreement = agreement_at(one, other, shift)
        if agreement is None or one.step_k != other.step_k or agreement.share < LEAST_SHARE:
            continue
        chance = usual_agreement(series, (first, second))
        bound = agreeing_bound(agreement.share, chance, agreement.trials) * comparisons
        if bound <= level:
            yield SeriesAlike(
                (one.run, other.run), shift, agreement.readings, agreement.share,
                correlation_at(one, other, shift), agreement.offset_k, bound,
            )  # fmt: skip


def agreement_at(one: Series, other: Series, shift: int) -> _Agreement | None:
    """How the steps agree with the second laid `shift` readings later; None for a short overlap.

    An agreement counts by the lesser of its two surprises. Steps share a reading with their
    neighbours, so the trials are `(Σs)²/Σs²`.
    """
    mine, theirs = _overlap(one.steps.size, other.steps.size, shift)
    length = mine.stop - mine.start
    if length < LEAST_OVERLAP * min(one.steps.size, other.steps.size):
        return None
    weight = np.minimum(one.surprise[mine], other.surprise[theirs])
    total = float(weight.sum())
    if total <= 0:
        return None
    same = one.steps[mine] == other.steps[theirs]
    trials = total**2 / float((weight**2).sum())
    difference = other.temperature_c[:-1][theirs] - one.temperature_c[:-1][mine]
    share = float((weight * same).sum()) / total
    return _Agreement(share, trials, length + 1, float(np.median(difference)))


def _overlap(mine: int, theirs: int, shift: int) -> tuple[slice, slice]:
    """Which stretch of either lies on the other; `shift` > 0 lays the other's start further on."""
    start = max(0, shift)
    end = min(mine, theirs + shift)
    return slice(start, max(start, end)), slice(start - shift, max(start, end) - shift)


def usual_agreement(series: Sequence[Series], pair: tuple[int, int]) -> float:
    """How much of the steps of either run agrees with runs it has nothing to do with.

    Each is laid at the firing on others read with the same step, at the same interval where there
    are such; of the shares a high quantile is taken, so that one more copy does not move it.
    """
    shares = [
        agreement.share
        for place in pair
        for other in _others(series, place, pair)
        if (agreement := _at_firing(series[place], other)) is not None
    ]
    return max(LEAST_CHANCE, float(np.quantile(shares, RARE))) if shares else LEAST_CHANCE


def _at_firing(one: Series, other: Series) -> _Agreement | None:
    return agreement_at(one, other, one.steepest - other.steepest)


def _others(series: Sequence[Series], place: int, pair: tuple[int, int]) -> list[Series]:
    """Some, spread over the term, those at the same interval first."""
    mine = series[place]
    alike = [one for at, one in enumerate(series) if at not in pair and one.step_k == mine.step_k]
    alike.sort(key=lambda one: abs(one.interval_s - mine.interval_s))
    as_often = [one for one in alike if abs(one.interval_s / mine.interval_s - 1.0) < 0.01]
    return as_often[:: max(1, len(as_often) // OTHERS)][:OTHERS] or alike[:OTHERS]


# --- by scatter --------------------------------------------------------------------------------


def _by_scatter(series: Sequence[Series], level: float) -> Iterator[SeriesAlike]:
    """Pairs read at the same interval, at every shift."""
    at_interval: dict[float, list[Series]] = {}
    for one in series:
        if one.scatter.any():
            at_interval.setdefault(round(one.interval_s, 1), []).append(one)
    pairs = sum(len(together) * (len(together) - 1) / 2 for together in at_interval.values())
    comparisons = pairs * (2 * SHIFTS + 1)
    for together in at_interval.values():
        for a, b, shift, log_chance in _correlated(together, level / max(comparisons, 1.0)):
            expected = exp(log_chance) * comparisons
            yield _scattered_alike(together[a], together[b], shift, expected)


def _correlated(series: Sequence[Series], chance: float) -> Iterator[tuple[int, int, int, float]]:
    """Pairs, the earlier run first, with a shift, whose correlation has no greater chance."""
    for shift, logs in _chances(series):
        for a, b in np.argwhere(logs <= np.log(chance)).tolist():
            if a < b:
                yield a, b, shift, float(logs[a, b])
            elif a > b and shift:
                yield b, a, -shift, float(logs[a, b])


def _chances(series: Sequence[Series]) -> Iterator[tuple[int, Array]]:
    """Shift by shift, ln of the chance of every pair's correlation, shape (runs, runs).

    Fisher's z: `atanh(r)·√(n − 3)` is normal (Biometrika 10 (1915) 507).
    """
    longest = max(one.scatter.size for one in series)
    # Single precision halves the time and is ample for a correlation of some hundred readings.
    laid = np.zeros((len(series), longest), dtype=np.float32)
    for place, one in enumerate(series):
        laid[place, : one.scatter.size] = one.scatter
    heard, squares = (laid != 0).astype(np.float32), laid**2
    for shift in range(min(SHIFTS, longest - FEWEST_READINGS) + 1):
        mine, theirs = slice(shift, None), slice(0, longest - shift)
        both = heard[:, mine] @ heard[:, theirs].T
        logs = _log_chance(
            laid[:, mine] @ laid[:, theirs].T,
            squares[:, mine] @ heard[:, theirs].T,
            heard[:, mine] @ squares[:, theirs].T,
            both,
        )
        yield shift, np.where(both >= FEWEST_READINGS, logs, 0.0)


def _log_chance(products: Floats, mine: Floats, theirs: Floats, count: Floats) -> Array:
    """ln of the chance of so high a correlation, from sums over the common readings."""
    with np.errstate(invalid="ignore", divide="ignore"):
        r = np.nan_to_num(products / np.sqrt(mine * theirs))
    r = np.clip(r.astype(float), -1.0 + 1e-6, 1.0 - 1e-6)
    telling = np.maximum(count / DEPENDENCE - 3.0, 1.0)
    return np.asarray(log_ndtr(-np.arctanh(r) * np.sqrt(telling)))


def correlation_at(one: Series, other: Series, shift: int) -> float | None:
    """The correlation of the scatter at a shift; None where rounding hides it."""
    mine, theirs = _overlap(one.scatter.size, other.scatter.size, shift)
    a, b = one.scatter[mine], other.scatter[theirs]
    both = (a != 0) & (b != 0)
    if both.sum() < FEWEST_READINGS:
        return None
    a, b = a[both], b[both]
    return float((a * b).sum() / np.sqrt((a**2).sum() * (b**2).sum()))


def _scattered_alike(one: Series, other: Series, shift: int, expected: float) -> SeriesAlike:
    agreement = agreement_at(one, other, shift)
    return SeriesAlike(
        (one.run, other.run),
        shift,
        agreement.readings if agreement else 0,
        agreement.share if agreement else 0.0,
        correlation_at(one, other, shift),
        agreement.offset_k if agreement else 0.0,
        expected,
    )

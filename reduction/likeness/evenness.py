"""Scatter that is smaller than the instrument or the bench usually leaves it."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from scipy.special import chdtr, fdtr

from reduction import likeness

FEWEST_READINGS = 8
LEAST_STEPS = 3.0
"""A line that crosses fewer steps of its thermometer may leave nothing by rounding alone."""
FEWEST_RUNS = 8
USUAL_DEGREES = 8.0
"""Degrees of freedom granted to what is usual on a bench: its runs and their loggers differ."""
BUDGET_DEGREES = 20.0
"""Degrees of freedom granted to the uncertainty of a budget."""


@dataclass(frozen=True)
class LineScatter:
    """A rating period: its residual standard deviation [K] and number of readings.

    range_k is what its line climbs or falls over it [K], step_k the thermometer's step [K].
    """

    run: int
    bench: int
    period: str
    residual_sd_k: float
    count: int
    range_k: float
    step_k: float


@dataclass(frozen=True)
class LineEven:
    """A line that leaves less than `usual_k`; `expected` such lines in the term by chance."""

    line: LineScatter
    usual_k: float
    is_rounding: bool
    expected: float


@dataclass(frozen=True)
class Replicates:
    """A group's heat capacities [J/K] and how runs on this bench usually scatter.

    usual_sd with its degrees: pooled over the bench's other standardizations. u: what the budgets
    of these runs leave beside what they share.
    """

    group: int
    standardization: int
    values: tuple[float, ...]
    u: float
    usual_sd: float
    usual_degrees: float


@dataclass(frozen=True)
class ReplicatesClose:
    replicates: Replicates
    sd: float
    usual_sd: float
    expected: float


def even_lines(lines: Sequence[LineScatter], level: float = likeness.LINES) -> list[LineEven]:
    """Rating periods with less scatter than rounding leaves, or far less than their bench does.

    Rounding to steps r leaves `r/√12` (GUM, JCGM 100:2008, 4.3.7, F.2.2.1) about a line that
    crosses several of them; the share of that left is held against χ²/ν, below. The bench's usual
    is the lower quartile of its other runs, where that is more than a step; the share of that is
    held against F. Both tests count as comparisons.
    """
    asked = [line for line in lines if line.count >= FEWEST_READINGS]
    found = []
    for line in asked:
        for usual, is_rounding, chance in (_by_rounding(line), _by_bench(line, asked)):
            expected = chance * 2 * len(asked)
            if expected <= level:
                found.append(LineEven(line, usual, is_rounding, expected))
                break
    return sorted(found, key=lambda one: one.expected)


def _by_rounding(line: LineScatter) -> tuple[float, bool, float]:
    """By rounding alone the residuals are no more scattered than normal ones: χ² errs upward.

    Not where the line climbs by nearly whole steps from reading to reading: then rounding leaves
    next to nothing.
    """
    usual, degrees = line.step_k / sqrt(12.0), line.count - 2
    if line.range_k < LEAST_STEPS * line.step_k or not usual:
        return usual, True, 1.0
    climb = line.range_k / (line.count - 1) / line.step_k
    if abs(climb - round(climb)) * line.count < 1.0:
        return usual, True, 1.0
    return usual, True, float(chdtr(degrees, degrees * (line.residual_sd_k / usual) ** 2))


def _by_bench(line: LineScatter, lines: Sequence[LineScatter]) -> tuple[float, bool, float]:
    others = [
        one.residual_sd_k
        for one in lines
        if (one.bench, one.period, one.step_k) == (line.bench, line.period, line.step_k)
        and one.run != line.run
    ]
    usual = float(np.quantile(others, 0.25)) if len(others) >= FEWEST_RUNS else 0.0
    if usual <= line.step_k:
        return usual, False, 1.0
    ratio = (line.residual_sd_k / usual) ** 2
    return usual, False, float(fdtr(line.count - 2, USUAL_DEGREES, ratio))


def close_replicates(
    sets: Sequence[Replicates], level: float = likeness.REPLICATES
) -> list[ReplicatesClose]:
    """Replicates nearer each other than both their budgets and their bench's past allow.

    `s²/σ²` against F(n − 1, ν), below, with the smaller of the two σ: careful groups are many.
    """
    asked = [one for one in sets if len(one.values) >= 2 and (one.u > 0 or one.usual_sd > 0)]
    found = []
    for one in asked:
        sd = float(np.std(one.values, ddof=1))
        usual, degrees = _usual(one)
        chance = float(fdtr(len(one.values) - 1, degrees, (sd / usual) ** 2))
        if chance * len(asked) <= level:
            found.append(ReplicatesClose(one, sd, usual, chance * len(asked)))
    return sorted(found, key=lambda one: one.expected)


def _usual(one: Replicates) -> tuple[float, float]:
    of_bench = (one.usual_sd, max(1.0, one.usual_degrees))
    of_budget = (one.u, BUDGET_DEGREES)
    return min(pair for pair in (of_bench, of_budget) if pair[0] > 0)

"""The phases of a bench's history: its approved values cut where it changed, and how they stand."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from itertools import takewhile
from math import isnan

import numpy as np

from reduction.drift import UNKNOWN, Judgement, Scatter, scatter_of_differences

from ..models import Bench, FrozenLimits, PhaseBreak, Run, Standardization
from .points import Point


@dataclass(frozen=True)
class Judged:
    """A point with what it was held against: limits in J/K, None where nothing was known yet.

    `standing` is how the bench stood with it; `ewma` the weighted mean of the latest values.
    """

    point: Point
    standing: str
    lower: float | None
    upper: float | None
    centre: float | None
    ewma: float | None
    n: int
    is_beyond: bool


@dataclass
class BenchPhase:
    """What a bench gave between two breaks, with how each value was judged.

    ``number`` counts the phases of the bench from 1. Only recent phases, and the newest, tell how
    the values scatter: people and habits change.
    """

    begins: PhaseBreak | None
    number: int = 1
    points: list[Point] = field(default_factory=list)
    frozen: list[FrozenLimits] = field(default_factory=list)
    judgement: Judgement | None = None
    is_recent: bool = True
    # How single runs on this bench scatter [J/K], pooled over its standardizations.
    of_runs: Scatter = UNKNOWN

    @cached_property
    def values(self) -> list[float]:
        return [point.approval.c_j_per_k for point in self.points]

    @cached_property
    def excluded(self) -> list[bool]:
        return [not point.counts for point in self.points]

    @cached_property
    def counted(self) -> list[float]:
        return [point.approval.c_j_per_k for point in self.points if point.counts]

    @cached_property
    def mean(self) -> float | None:
        return float(np.mean(self.counted)) if self.counted else None

    @cached_property
    def relative_scatter(self) -> Scatter:
        """The scatter from value to value over the mean; a slow drift hardly widens it."""
        if not self.counted or not self.is_recent:
            return UNKNOWN
        counted = np.array(self.counted)
        return scatter_of_differences(counted / counted.mean())

    @cached_property
    def judged(self) -> list[Judged]:
        """Every point as it was judged; empty before the phase has been."""
        j = self.judgement
        if j is None:
            return []
        columns = zip(
            self.points, j.states, *map(_known, (j.lower, j.upper, j.centre, j.ewma)),
            j.n.tolist(), (j.beyond != 0).tolist(), strict=True,
        )  # fmt: skip
        return [Judged(*column) for column in columns]


def _known(values: np.ndarray) -> list[float | None]:
    return [known(value) for value in values.tolist()]


def known(value: float) -> float | None:
    return None if isnan(value) else float(value)


@dataclass
class BenchHistory:
    bench: Bench
    phases: list[BenchPhase]
    in_force: Standardization | None
    busy: list[Run]

    @property
    def now(self) -> BenchPhase:
        return self.phases[-1]

    @property
    def standing(self) -> str:
        judgement = self.now.judgement
        return judgement.state if judgement else "too few points"

    @property
    def reasons(self) -> tuple[str, ...]:
        judgement = self.now.judgement
        return judgement.reasons if judgement else ()

    @property
    def since(self) -> datetime | None:
        """When the bench came to stand as it does."""
        judged = reversed(self.now.judged)
        alike = [one.point.at for one in takewhile(lambda j: j.standing == self.standing, judged)]
        if alike:
            return alike[-1]
        return self.now.begins.at if self.now.begins else None

    @property
    def first_baseline_j_per_k(self) -> float | None:
        """The mean of the baseline values of the oldest phase that has any."""
        for phase in self.phases:
            formed = phase.judgement.in_baseline if phase.judgement else np.zeros(0, dtype=bool)
            if formed.any():
                return float(np.array(phase.values)[formed].mean())
        return None

    @property
    def points(self) -> list[Point]:
        return [point for phase in self.phases for point in phase.points]

    @property
    def judged(self) -> list[Judged]:
        return [judged for phase in self.phases for judged in phase.judged]


def phases_of(
    points: Iterable[Point],
    breaks: list[PhaseBreak],
    frozen: list[FrozenLimits],
    recent: datetime,
    earlier: int = 0,
) -> list[BenchPhase]:
    """The approved values, oldest first, cut at every break that was not merged.

    ``earlier`` phases are not read; the first of the breaks then begins the oldest that is.
    """
    begins = breaks if earlier else [None, *breaks]
    phases = [BenchPhase(cut, number) for number, cut in enumerate(begins, start=earlier + 1)]
    places = [phase.begins.at for phase in phases[1:] if phase.begins]
    for point in points:
        phases[bisect_right(places, point.approval.at)].points.append(point)
    for phase in phases:
        start = phase.begins.pk if phase.begins else None
        phase.frozen = [limits for limits in frozen if limits.begins_id == start]
        ends = phase.points[-1].at if phase.points else None
        phase.is_recent = phase is phases[-1] or (ends is not None and ends >= recent)
    return [phase for phase in phases[:-1] if phase.points] + phases[-1:]

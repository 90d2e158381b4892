"""Every bench's heat capacity over the years, cut into phases and judged against its own past."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cached_property
from itertools import takewhile
from typing import TypeVar

import numpy as np

from reduction.drift import (
    Baseline,
    Judgement,
    Phase,
    Rules,
    Scatter,
    judge_all,
    pooled,
    scatter_of_differences,
    shared,
)

from .. import clock
from ..access import require
from ..models import Account, Bench, FrozenLimits, PhaseBreak, Run, Standardization
from .points import Point, points_since
from .standardizations import approvals_in_force

RULES = Rules()
REACH = timedelta(days=5 * 365)
"""How far back the histories are read unless more is asked for, to the start of a phase."""

EVER = datetime(1900, 1, 1, tzinfo=UTC)
"""Before anything that can be on record."""

UNFINISHED = (Run.State.OPEN, Run.State.FIRED)


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
    # Standard deviation of single runs on this bench, pooled over its standardizations.
    run_sd_j_per_k: float = 0.0

    @property
    def values(self) -> list[float]:
        return [point.approval.c_j_per_k for point in self.points]

    @property
    def counted(self) -> list[float]:
        return [point.approval.c_j_per_k for point in self.points if point.counts]

    @property
    def mean(self) -> float | None:
        return float(np.mean(self.counted)) if self.counted else None

    @cached_property
    def judged(self) -> list[Judged]:
        """Every point as it was judged; empty before the phase has been."""
        j = self.judgement
        if j is None:
            return []
        return [
            Judged(
                point,
                j.states[i],
                known(j.lower[i]),
                known(j.upper[i]),
                known(j.centre[i]),
                known(j.ewma[i]),
                int(j.n[i]),
                bool(j.beyond[i] != 0),
            )
            for i, point in enumerate(self.points)
        ]


def known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)


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


Row = TypeVar("Row", PhaseBreak, FrozenLimits, Standardization, Run)


def _by_bench(rows: Iterable[Row]) -> dict[int, list[Row]]:
    found: dict[int, list[Row]] = defaultdict(list)
    for row in rows:
        found[row.bench_id].append(row)
    return found


def histories(account: Account, since: datetime | None = None) -> list[BenchHistory]:
    """All benches, judged in one go; the number of queries does not grow with the benches."""
    require(account, "see benches")
    return all_histories(since)


def history_of(
    bench: Bench, account: Account, since: datetime | None = None
) -> tuple[BenchHistory, list[BenchHistory]]:
    """One bench, itself read further back where asked, with all: their scatter judges it."""
    require(account, "see benches")
    everyone = all_histories(since, only=bench)
    return next(found for found in everyone if found.bench.pk == bench.pk), everyone


def all_histories(since: datetime | None = None, only: Bench | None = None) -> list[BenchHistory]:
    """For the record itself: commands and actions, which ask nobody's rights.

    Whole phases, from the one in which `REACH` begins; from an earlier one, of all benches or
    only of one, where ``since`` is earlier. What is read further back changes no judgement.
    """
    benches = list(Bench.objects.all())
    breaks = _by_bench(PhaseBreak.objects.exclude(state=PhaseBreak.State.MERGED))
    frozen = _by_bench(FrozenLimits.objects.select_related("by"))
    recent = clock.now() - REACH
    reach = {bench.pk: recent for bench in benches}
    for bench in [only] if only else benches:
        reach[bench.pk] = min(recent, since or recent)
    first = {pk: bisect_right([cut.at for cut in breaks[pk]], at) for pk, at in reach.items()}
    points = points_since({pk: _start(breaks[pk], place) for pk, place in first.items()})
    in_force = {s.bench_id: s for s in approvals_in_force()}
    # A run without the moment of its completion is in the index of the few unfinished ones; its
    # group is fetched apart, since joined it tempts SQLite to read every run there is.
    unfinished = Run.objects.filter(completed_at__isnull=True, state__in=UNFINISHED)
    busy = _by_bench(unfinished.filter(bench__in=benches).prefetch_related("group"))
    found = [
        BenchHistory(
            bench,
            phases_of(
                points[bench.pk], breaks[bench.pk], frozen[bench.pk], recent, first[bench.pk]
            ),
            in_force.get(bench.pk),
            busy[bench.pk],
        )
        for bench in benches
    ]
    judge_histories(found)
    return found


def _start(breaks: list[PhaseBreak], place: int) -> datetime | None:
    """When the phase at this place of a bench begins; None for its first."""
    return breaks[place - 1].at if place else None


def pooled_run_sd(points: Iterable[Point]) -> float:
    """`s² = Σ(n_i − 1)s_i²/Σ(n_i − 1)` over the standardizations of one bench, in J/K."""
    scatters = [
        Scatter(point.approval.s_j_per_k, point.approval.n - 1)
        for point in points
        if point.counts and point.approval.s_j_per_k is not None
    ]
    return pooled(scatters).sd


def phases_of(
    points: Iterable[Point],
    breaks: list[PhaseBreak],
    frozen: list[FrozenLimits],
    recent: datetime,
    first: int = 0,
) -> list[BenchPhase]:
    """The approved values, oldest first, cut at every break that was not merged.

    ``first`` is the place of the phase that the oldest point belongs to.
    """
    begins = [None, *breaks][first:]
    phases = [BenchPhase(cut, number) for number, cut in enumerate(begins, start=first + 1)]
    places = [cut.at for cut in breaks[first:]]
    for point in points:
        phases[bisect_right(places, point.at)].points.append(point)
    for phase in phases:
        start = phase.begins.pk if phase.begins else None
        phase.frozen = [limits for limits in frozen if limits.begins_id == start]
        ends = phase.points[-1].at if phase.points else None
        phase.is_recent = phase is phases[-1] or (ends is not None and ends >= recent)
    return [phase for phase in phases[:-1] if phase.points] + phases[-1:]


def judge_histories(found: list[BenchHistory]) -> None:
    """Judge every phase by the scatter of the other benches and of its bench's earlier phases."""
    for history in found:
        told = [point for phase in history.phases if phase.is_recent for point in phase.points]
        run_sd = pooled_run_sd(told)
        for phase in history.phases:
            phase.run_sd_j_per_k = run_sd
    spread = {history.bench.pk: [_relative_scatter(p) for p in history.phases] for history in found}
    phases, pools = [], []
    for history in found:
        others = [pooled(s) for pk, s in spread.items() if pk != history.bench.pk]
        for number, phase in enumerate(history.phases):
            phases.append(phase)
            pools.append(shared([*others, pooled(spread[history.bench.pk][:number])]))
    asked = [as_phase(phase, pool) for phase, pool in zip(phases, pools, strict=True)]
    for phase, judgement in zip(phases, judge_all(asked, RULES), strict=True):
        phase.judgement = judgement


def _relative_scatter(phase: BenchPhase) -> Scatter:
    """The scatter from value to value over the mean; a slow drift hardly widens it."""
    if not phase.counted or not phase.is_recent:
        return Scatter(0.0, 0.0)
    counted = np.array(phase.counted)
    return scatter_of_differences(counted / counted.mean())


def as_phase(phase: BenchPhase, pool: Scatter, extra: tuple[float, int] | None = None) -> Phase:
    """The phase as the reduction takes it, perhaps with one more mean of n runs, undecided yet.

    A value is the mean of few runs, so it is never judged more sharply than the scatter of this
    bench's runs allows: u = s/√n.
    """
    values, runs = phase.values, [point.approval.n for point in phase.points]
    excluded = [not point.counts for point in phase.points]
    if extra is not None:
        values, runs, excluded = [*values, extra[0]], [*runs, extra[1]], [*excluded, False]
    newest = phase.frozen[-1] if phase.frozen else None
    return Phase(
        values=np.array(values, dtype=float),
        excluded=np.array(excluded, dtype=bool),
        u=phase.run_sd_j_per_k / np.sqrt(np.array(runs, dtype=float)),
        pool=pool.scaled(phase.mean or (extra[0] if extra else 1.0)),
        frozen=_baseline(newest) if newest else None,
        frozen_from=newest.first_index if newest else 0,
    )


def _baseline(limits: FrozenLimits) -> Baseline:
    return Baseline(limits.n, limits.mean_j_per_k, limits.sd_j_per_k, limits.degrees)


def pool_for(bench: Bench, found: list[BenchHistory]) -> Scatter:
    """The relative scatter of the other benches and of this bench's past phases."""
    others = [
        pooled([_relative_scatter(phase) for phase in history.phases])
        for history in found
        if history.bench.pk != bench.pk
    ]
    own = next(history for history in found if history.bench.pk == bench.pk)
    return shared([*others, pooled([_relative_scatter(phase) for phase in own.phases[:-1]])])

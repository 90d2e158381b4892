"""Every bench's heat capacity over the years, cut into phases and judged against its own past."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np

from reduction.drift import (
    Baseline,
    Judgement,
    Phase,
    Rules,
    Scatter,
    judge,
    judge_all,
    pooled,
    scatter_of_differences,
    shared,
)

from ..access import require
from ..models import Account, Bench, Exclusion, FrozenLimits, PhaseBreak, Run, Standardization
from ..models.standardizations import Approval
from .standardizations import approvals_in_force, approved_history

RULES = Rules()


@dataclass(frozen=True)
class Point:
    """One approved standardization, perhaps withdrawn or left out for a proven cause."""

    standardization: Standardization
    approval: Approval
    exclusion: Exclusion | None = None

    @property
    def is_withdrawn(self) -> bool:
        return self.standardization.state == Standardization.State.WITHDRAWN

    @property
    def counts(self) -> bool:
        return self.exclusion is None and not self.is_withdrawn


@dataclass(frozen=True)
class Judged:
    """A point with what it was held against: limits in J/K, None where nothing was known yet."""

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
    """What a bench gave between two breaks, with how each value was judged."""

    begins: PhaseBreak | None
    points: list[Point] = field(default_factory=list)
    frozen: list[FrozenLimits] = field(default_factory=list)
    judgement: Judgement | None = None
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

    @property
    def judged(self) -> list[Judged]:
        j = self.judgement
        if j is None:
            return []
        return [
            Judged(
                point,
                j.states[i],
                _known(j.lower[i]),
                _known(j.upper[i]),
                _known(j.centre[i]),
                _known(j.ewma[i]),
                int(j.n[i]),
                bool(j.beyond[i] != 0),
            )
            for i, point in enumerate(self.points)
        ]


def _known(value: float) -> float | None:
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


def histories(account: Account) -> list[BenchHistory]:
    """All benches, judged in one go; the number of queries does not grow with the benches."""
    require(account, "see benches")
    return all_histories()


def history_of(account: Account, bench: Bench) -> BenchHistory:
    """One bench. The scatter of all the others is part of its judgement."""
    return next(found for found in histories(account) if found.bench.pk == bench.pk)


def all_histories() -> list[BenchHistory]:
    """For the record itself: commands and actions, which ask nobody's rights."""
    benches = list(Bench.objects.all())
    past = _by_bench(approved_history(benches))
    breaks = _by_bench(PhaseBreak.objects.exclude(state=PhaseBreak.State.MERGED))
    frozen = _by_bench(FrozenLimits.objects.select_related("by"))
    excluded = {e.standardization_id: e for e in Exclusion.objects.filter(ended_at__isnull=True)}
    in_force = {s.bench_id: s for s in approvals_in_force()}
    busy = _by_bench(
        Run.objects.filter(state__in=[Run.State.OPEN, Run.State.FIRED]).select_related("group")
    )
    found = [
        BenchHistory(
            bench,
            phases_of(past[bench.pk], breaks[bench.pk], frozen[bench.pk], excluded),
            in_force.get(bench.pk),
            busy[bench.pk],
        )
        for bench in benches
    ]
    for history in found:
        run_sd = pooled_run_sd(history.points)
        for phase in history.phases:
            phase.run_sd_j_per_k = run_sd
    _judge(found)
    return found


def pooled_run_sd(points: Iterable[Point]) -> float:
    """`s² = Σ(n_i − 1)s_i²/Σ(n_i − 1)` over the standardizations of one bench, in J/K."""
    scatters = [
        Scatter(point.approval.s_j_per_k, point.approval.n - 1)
        for point in points
        if point.counts and point.approval.s_j_per_k is not None
    ]
    return pooled(scatters).sd


def phases_of(
    history: Iterable[Standardization],
    breaks: list[PhaseBreak],
    frozen: list[FrozenLimits],
    excluded: dict[int, Exclusion],
) -> list[BenchPhase]:
    """The approved values, oldest first, cut at every break that was not merged."""
    phases = [BenchPhase(None), *(BenchPhase(cut) for cut in breaks)]
    for standardization in history:
        approval = standardization.approval
        if approval is None:
            continue
        begun = [p for p in phases if p.begins is None or p.begins.at <= approval.at]
        point = Point(standardization, approval, excluded.get(standardization.pk))
        begun[-1].points.append(point)
    for phase in phases:
        start = phase.begins.pk if phase.begins else None
        phase.frozen = [limits for limits in frozen if limits.begins_id == start]
    return [phase for phase in phases[:-1] if phase.points] + phases[-1:]


def _judge(found: list[BenchHistory]) -> None:
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
    if not phase.counted:
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


@dataclass(frozen=True)
class Beside:
    """A value not decided yet, beside its bench's own past."""

    standing: str
    is_outside: bool
    reasons: tuple[str, ...]
    lower: float | None
    upper: float | None
    n: int


def beside_history(bench: Bench, value: float, runs: int) -> Beside:
    """How a mean of so many runs would be judged if it were approved now."""
    found = all_histories()
    own = next(history for history in found if history.bench.pk == bench.pk)
    judged = judge(as_phase(own.now, pool_for(bench, found), (value, runs)), RULES)
    lower, upper = _known(judged.lower[-1]), _known(judged.upper[-1])
    return Beside(
        standing=judged.states[-1],
        is_outside=lower is not None and upper is not None and not lower <= value <= upper,
        reasons=judged.reasons_at(len(judged.states) - 1),
        lower=lower,
        upper=upper,
        n=int(judged.n[-1]),
    )

"""How benches stand: every phase judged by the scatter of all of them, in one walk."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import sqrt

import numpy as np

from reduction.drift import Baseline, Phase, Rules, Scatter, judge_all, pooled, shared

from ..models import Bench, FrozenLimits
from .phases import BenchHistory, BenchPhase
from .points import Point

RULES = Rules()


def judge_histories(found: list[BenchHistory]) -> None:
    """Judge every phase by the scatter of the other benches and of its bench's earlier phases."""
    for history in found:
        told = [point for phase in history.phases if phase.is_recent for point in phase.points]
        of_runs = scatter_of_runs(told)
        for phase in history.phases:
            phase.of_runs = of_runs
    phases = [phase for history in found for phase in history.phases]
    asked = [
        as_phase(phase, pool)
        for history, others in zip(found, _of_the_others(found), strict=True)
        for phase, pool in zip(history.phases, _pools(history.phases, others), strict=True)
    ]
    for phase, judgement in zip(phases, judge_all(asked, RULES), strict=True):
        phase.judgement = judgement


def scatter_of_runs(points: Iterable[Point]) -> Scatter:
    """`s² = Σ(n_i − 1)s_i²/Σ(n_i − 1)` over the standardizations of one bench, in J/K.

    Runs of one afternoon share a group's skill, so each standardization is worth one degree.
    """
    spreads = [
        (approval.n - 1, approval.s_j_per_k)
        for approval in (point.approval for point in points if point.counts)
        if approval.s_j_per_k is not None
    ]
    squares, degrees = sum(own * s**2 for own, s in spreads), sum(own for own, _ in spreads)
    return Scatter(sqrt(squares / degrees) if degrees else 0.0, len(spreads))


def _of_the_others(found: Sequence[BenchHistory]) -> list[list[Scatter]]:
    """For each bench the relative scatter of every other one."""
    scatters = [pooled(phase.relative_scatter for phase in history.phases) for history in found]
    return [scatters[:place] + scatters[place + 1 :] for place in range(len(found))]


def _pools(phases: Sequence[BenchPhase], others: list[Scatter]) -> list[Scatter]:
    """For each phase what the other benches and the phases before it say of the scatter."""
    own = [phase.relative_scatter for phase in phases]
    return [shared([*others, pooled(own[:number])]) for number in range(len(own))]


def pool_for(bench: Bench, found: list[BenchHistory]) -> Scatter:
    """The relative scatter of the other benches and of this bench's past phases."""
    place = next(place for place, history in enumerate(found) if history.bench.pk == bench.pk)
    return _pools(found[place].phases, _of_the_others(found)[place])[-1]


def as_phase(phase: BenchPhase, pool: Scatter, extra: tuple[float, int] | None = None) -> Phase:
    """The phase as the reduction takes it, perhaps with one more mean of n runs, undecided yet.

    A value is the mean of few runs, so it is never judged more sharply than the scatter of this
    bench's runs allows: u = s/√n.
    """
    values, runs = phase.values, [point.approval.n for point in phase.points]
    excluded = phase.excluded
    if extra is not None:
        values, runs, excluded = [*values, extra[0]], [*runs, extra[1]], [*excluded, False]
    newest = phase.frozen[-1] if phase.frozen else None
    return Phase(
        values=np.array(values, dtype=float),
        excluded=np.array(excluded, dtype=bool),
        u=phase.of_runs.sd / np.sqrt(np.array(runs, dtype=float)),
        u_degrees=phase.of_runs.degrees,
        pool=pool.scaled(phase.mean or (extra[0] if extra else 1.0)),
        frozen=_baseline(newest) if newest else None,
        frozen_from=newest.first_index if newest else 0,
    )


def _baseline(limits: FrozenLimits) -> Baseline:
    return Baseline(limits.n, limits.mean_j_per_k, limits.sd_j_per_k, limits.degrees)

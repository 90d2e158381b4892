"""What happened to a bench that left its past: when, what was logged around it, and the others."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import numpy as np
from django.db.models import Min, QuerySet
from django.utils import timezone
from scipy.special import stdtrit

from reduction.drift import (
    Break,
    Change,
    CommonCause,
    Scatter,
    change_across,
    change_along,
    common_cause,
    find_break,
)

from ..models import Bench, BenchEvent, PhaseBreak, Run
from .benches import changes_of
from .phases import BenchHistory, BenchPhase
from .points import Point
from .practice import practice_groups

AROUND = timedelta(days=7)
REACH_DAYS = 250.0
SECONDS_A_DAY = 86_400
# What most often moves a heat capacity comes first (common practice, no source).
LIKELY = ("parts", "service", "fault", "lot", "water", "group")


@dataclass(frozen=True)
class Happening:
    """Something recorded near the break; ``days_off`` from its most likely moment."""

    at: datetime
    kind: str
    words: str
    days_off: float


@dataclass(frozen=True)
class WhatHappened:
    found: Break
    earliest: datetime | None
    latest: datetime | None
    nearby: list[Happening]
    others: CommonCause | None


def day_of(moment: datetime) -> float:
    return moment.timestamp() / SECONDS_A_DAY


def moment_of(day: float) -> datetime:
    return datetime.fromtimestamp(day * SECONDS_A_DAY, UTC)


def _written(day: float) -> str:
    return f"{timezone.localtime(moment_of(day)):%-d %B %Y}"


def what_happened(own: BenchHistory, everyone: list[BenchHistory]) -> WhatHappened | None:
    """For the newest phase of a bench; None while its scatter is not known."""
    phase = own.now
    scatter = _scatter_in(phase)
    if scatter is None or not phase.points:
        return None
    days = _days(phase.points)
    values, left_out = np.array(phase.values), _left_out(phase.points)
    found = find_break(values, scatter, days, left_out, date=_written)
    if found.kind == "slow drift":
        others = _along(everyone, float(days[0]), float(days[-1]))
        return WhatHappened(found, None, None, [], others)
    if found.step is None or found.kind not in ("step", "step or slow drift"):
        return WhatHappened(found, None, None, [], None)
    earliest, latest = moment_of(found.step.earliest), moment_of(found.step.latest)
    likeliest = moment_of((days[found.step.index - 1] + days[found.step.index]) / 2)
    return WhatHappened(
        found,
        earliest,
        latest,
        _nearby(own.bench, earliest - AROUND, latest + AROUND, likeliest),
        _across(everyone, found.step.earliest, found.step.latest),
    )


@dataclass(frozen=True)
class StepAcross:
    """How the level changed from one phase to the next, in per cent with its 95 % half width."""

    cut: PhaseBreak
    percent: float | None
    half_width_percent: float | None


def steps_across(own: BenchHistory) -> list[StepAcross]:
    """The step at every break of a bench that has values on both sides."""
    return [
        _step_across(before, after)
        for before, after in pairwise(own.phases)
        if after.begins is not None
    ]


def _step_across(before: BenchPhase, after: BenchPhase) -> StepAcross:
    assert after.begins is not None
    scatter = _scatter_in(before)
    if not before.counted or not after.counted or scatter is None:
        return StepAcross(after.begins, None, None)
    points = [*before.points, *after.points]
    days, place = _days(points), len(before.points)
    ends = float(days[place - 1]), float(days[place])
    change = change_across(_values(points), days, *ends, scatter, _left_out(points))
    if change is None:
        return StepAcross(after.begins, None, None)
    t = float(stdtrit(scatter.degrees, 0.975))
    return StepAcross(after.begins, 100 * change.fraction, 100 * t * change.u)


def _scatter_in(phase: BenchPhase) -> Scatter | None:
    """The scatter [J/K] that the phase's values are held by; None while it is not known.

    It knows of the bench's own runs too: a noisy bench moves more by chance.
    """
    baseline = phase.judgement.baseline if phase.judgement else None
    return Scatter(baseline.sd, baseline.degrees) if baseline and baseline.sd > 0 else None


def _values(points: Sequence[Point]) -> np.ndarray:
    return np.array([point.approval.c_j_per_k for point in points])


def _days(points: Sequence[Point]) -> np.ndarray:
    return np.array([day_of(point.at) for point in points])


def _left_out(points: Sequence[Point]) -> np.ndarray:
    return np.array([not point.counts for point in points])


def _across(everyone: list[BenchHistory], earliest: float, latest: float) -> CommonCause:
    """Whether the other benches stepped over the same time: all together, or one alone."""
    return common_cause({str(one.bench): _step_of(one, earliest, latest) for one in everyone})


def _step_of(one: BenchHistory, earliest: float, latest: float) -> Change | None:
    phase = next(
        (p for p in reversed(one.phases) if p.points and day_of(p.points[0].at) < latest),
        None,
    )
    scatter = _scatter_in(phase) if phase else None
    if phase is None or scatter is None:
        return None
    points = phase.points
    return change_across(
        _values(points), _days(points), earliest, latest, scatter, _left_out(points), REACH_DAYS
    )


def _along(everyone: list[BenchHistory], earliest: float, latest: float) -> CommonCause:
    """Whether the other benches drifted as slowly over the same time."""
    return common_cause({str(one.bench): _drift_of(one, earliest, latest) for one in everyone})


def _drift_of(one: BenchHistory, earliest: float, latest: float) -> Change | None:
    """Within its phases: what was changed between them is no drift."""
    scatter, points = _scatter_in(one.now), one.points
    if scatter is None:
        return None
    phases = [phase.number for phase in one.phases for _ in phase.points]
    days, left_out = _days(points), _left_out(points)
    return change_along(_values(points), days, earliest, latest, scatter, left_out, phases)


def _nearby(bench: Bench, start: datetime, end: datetime, likeliest: datetime) -> list[Happening]:
    found = [
        Happening(at, kind, words, abs((at - likeliest).total_seconds()) / SECONDS_A_DAY)
        for at, kind, words in _recorded(bench, start, end)
    ]
    return sorted(found, key=lambda one: (LIKELY.index(one.kind), one.days_off))


def _recorded(bench: Bench, start: datetime, end: datetime) -> Iterator[tuple[datetime, str, str]]:
    for change in changes_of(bench):
        if start <= change.configuration.since <= end:
            kind = "water" if set(change.differs) == {"nominal bucket water (g)"} else "parts"
            yield change.configuration.since, kind, f"{change.short}: {change.configuration.reason}"
    for event in BenchEvent.objects.filter(bench=bench, at__range=(start, end)):
        serviced = event.kind in (BenchEvent.Kind.SERVICE, BenchEvent.Kind.RECALIBRATED)
        words = f"{event.get_kind_display()}: {event.words}".rstrip(": ")
        yield event.at, "service" if serviced else "fault", words
    yield from _first_uses(bench, start, end)
    runs = _counted_runs(bench).filter(kind=Run.Kind.STANDARDIZATION, opened_at__range=(start, end))
    for code, at in runs.values_list("group__code").annotate(at=Min("opened_at")):
        yield at, "group", f"standardized by group {code}"


def _counted_runs(bench: Bench) -> QuerySet[Run]:
    return Run.objects.filter(bench=bench).exclude(group__in=practice_groups())


def _first_uses(
    bench: Bench, start: datetime, end: datetime
) -> Iterator[tuple[datetime, str, str]]:
    """Lots that came into use on this bench in that time."""
    for field, words in (
        ("standard_lot", "standard"), ("fuse_lot", "fuse wire"), ("titrant_lot", "titrant")
    ):  # fmt: skip
        used = (
            _counted_runs(bench)
            .filter(**{f"{field}__isnull": False})
            .values_list(f"{field}__code")
            .annotate(first=Min("opened_at"))
        )
        for code, first in used:
            if start <= first <= end:
                yield first, "lot", f"first use here of {words} lot {code}"

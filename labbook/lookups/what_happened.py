"""What happened to a bench that left its past: when, what was logged around it, and the others."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import numpy as np
from django.db.models import Min
from django.utils import timezone
from scipy.special import stdtrit

from reduction.drift import (
    Break,
    Change,
    CommonCause,
    Scatter,
    change_across,
    common_cause,
    find_break,
)

from ..models import Bench, BenchEvent, PhaseBreak, Run
from .benches import changes_of
from .history import BenchHistory, BenchPhase, pool_for

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
    return what_happened_in(own.now, own, everyone)


def what_happened_in(
    phase: BenchPhase, own: BenchHistory, everyone: list[BenchHistory]
) -> WhatHappened | None:
    scatter = pool_for(own.bench, everyone).scaled(phase.mean or 1.0)
    if scatter.sd <= 0 or not phase.points:
        return None
    days = _days(phase)
    found = find_break(np.array(phase.values), scatter, days, _left_out(phase), date=_written)
    if found.step is None or found.kind not in ("step", "step or slow drift"):
        middle = float(days[0] + days[-1]) / 2
        return WhatHappened(found, None, None, [], _others(everyone, middle, middle))
    earliest, latest = moment_of(found.step.earliest), moment_of(found.step.latest)
    likeliest = moment_of((days[found.step.index - 1] + days[found.step.index]) / 2)
    return WhatHappened(
        found,
        earliest,
        latest,
        _nearby(own.bench, earliest - AROUND, latest + AROUND, likeliest),
        _others(everyone, found.step.earliest, found.step.latest),
    )


@dataclass(frozen=True)
class StepAcross:
    """How the level changed from one phase to the next, in per cent with its 95 % half width."""

    cut: PhaseBreak
    percent: float | None
    half_width_percent: float | None


def steps_across(own: BenchHistory, everyone: list[BenchHistory]) -> list[StepAcross]:
    """The step at every break of a bench that has values on both sides."""
    pool = pool_for(own.bench, everyone)
    return [
        _step_across(before, after, pool)
        for before, after in pairwise(own.phases)
        if after.begins is not None
    ]


def _step_across(before: BenchPhase, after: BenchPhase, pool: Scatter) -> StepAcross:
    assert after.begins is not None
    scatter = pool.scaled(before.mean or 1.0)
    if not before.counted or not after.counted or scatter.sd <= 0:
        return StepAcross(after.begins, None, None)
    both = BenchPhase(None, points=[*before.points, *after.points])
    days = _days(both)
    ends = float(days[len(before.points) - 1]), float(days[len(before.points)])
    change = change_across(np.array(both.values), days, *ends, scatter, _left_out(both))
    if change is None:
        return StepAcross(after.begins, None, None)
    t = float(stdtrit(scatter.degrees, 0.975))
    return StepAcross(after.begins, 100 * change.fraction, 100 * t * change.u)


def _days(phase: BenchPhase) -> np.ndarray:
    return np.array([day_of(point.at) for point in phase.points])


def _left_out(phase: BenchPhase) -> np.ndarray:
    return np.array([not point.counts for point in phase.points])


def _others(everyone: list[BenchHistory], earliest: float, latest: float) -> CommonCause:
    """Whether the other benches moved over the same time: all together, or one alone."""
    return common_cause(
        {str(one.bench): _change(one, everyone, earliest, latest) for one in everyone}
    )


def _change(
    one: BenchHistory, everyone: list[BenchHistory], earliest: float, latest: float
) -> Change | None:
    phase = next(
        (p for p in reversed(one.phases) if p.points and day_of(p.points[0].at) < latest),
        None,
    )
    if phase is None:
        return None
    scatter: Scatter = pool_for(one.bench, everyone).scaled(phase.mean or 1.0)
    if scatter.sd <= 0:
        return None
    values, days = np.array(phase.values), _days(phase)
    return change_across(values, days, earliest, latest, scatter, _left_out(phase), REACH_DAYS)


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
    runs = Run.objects.filter(
        bench=bench, kind=Run.Kind.STANDARDIZATION, opened_at__range=(start, end)
    )
    for code, at in runs.values_list("group__code").annotate(at=Min("opened_at")):
        yield at, "group", f"standardized by group {code}"


def _first_uses(
    bench: Bench, start: datetime, end: datetime
) -> Iterator[tuple[datetime, str, str]]:
    """Lots that came into use on this bench in that time."""
    for field, words in (
        ("standard_lot", "standard"), ("fuse_lot", "fuse wire"), ("titrant_lot", "titrant")
    ):  # fmt: skip
        used = (
            Run.objects.filter(bench=bench, **{f"{field}__isnull": False})
            .values_list(f"{field}__code")
            .annotate(first=Min("opened_at"))
        )
        for code, first in used:
            if start <= first <= end:
                yield first, "lot", f"first use here of {words} lot {code}"

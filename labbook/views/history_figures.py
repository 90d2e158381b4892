"""From a judged history to what its charts are drawn from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

import numpy as np
from django.utils import timezone
from django.utils.text import Truncator

from ..forms.history import ShownForm
from ..lookups.beside import Beside
from ..lookups.phases import BenchHistory, BenchPhase, Judged
from ..lookups.points import Point as Of
from ..lookups.points import RunBehind
from ..lookups.switches import baseline_count
from ..lookups.wear import RunSigns, first_firing
from ..models import Bench, BenchEvent
from ..plots import textbook
from ..plots.history import BandStep, Change, Point, history
from ..plots.theme import shown as shown_number
from ..plots.wear import Sign, wear

Runs = Mapping[int, list[RunBehind]]
Window = tuple[datetime, datetime]
BESIDE_POINTS = 12
MARGIN = timedelta(days=14)


@dataclass(frozen=True)
class Shown:
    """What part of a history is on the page: its points within the window, with their phases."""

    row: BenchHistory
    window: Window

    def covers(self, at: datetime) -> bool:
        return self.window[0] <= at <= self.window[1]

    @property
    def judged(self) -> list[Judged]:
        return [one for one in self.row.judged if self.covers(one.point.at)]

    @property
    def breaks(self) -> list[Change]:
        cuts = [phase.begins for phase in self.row.phases if phase.begins]
        return [
            Change(at=cut.at, words=cut.get_cause_display()) for cut in cuts if self.covers(cut.at)
        ]


def shown_of(row: BenchHistory, form: ShownForm) -> Shown:
    return Shown(row, window_of(row.bench, row.points, form))


def window_of(bench: Bench, points: Iterable[Of], form: ShownForm) -> Window:
    """What was asked for. The time axis begins with the first value or run, but for named dates."""
    begins, ends = form.range()
    if form.names_dates:
        return begins, ends
    inside = [point.at for point in points if begins <= point.at <= ends]
    first_run = first_firing(bench, begins, ends)
    moments = [*inside, *([first_run] if first_run else [])]
    return min(moments, default=begins) - MARGIN, ends


def history_figure(
    shown: Shown, runs: Runs, events: Iterable[BenchEvent], *, with_ewma: bool
) -> Any:
    row = shown.row
    return history(
        [_plotted(judged, row, runs) for judged in shown.judged],
        [step for phase in row.phases for step in _band(phase, shown, phase is row.now)],
        shown.breaks,
        window=shown.window,
        until=min(shown.window[1], timezone.now()),
        ewma=_ewma(row.phases, shown) if with_ewma else (),
        events=[_event(event) for event in events],
    )


def _band(phase: BenchPhase, shown: Shown, is_now: bool) -> list[BandStep]:
    """What each value was held against, from the value before it on; then what is expected."""
    judged = phase.judged
    steps = [
        _step(max(before.point.at, shown.window[0]), one)
        for before, one in pairwise(judged)
        if shown.covers(one.point.at)
    ]
    if not judged or not shown.covers(judged[-1].point.at):
        return steps
    end = judged[-1].point.at
    baseline = phase.judgement.baseline if phase.judgement else None
    expected = phase.judgement.expected if phase.judgement and is_now else None
    if baseline is None or expected is None:
        return [*steps, BandStep(at=end, mean=None, low=None, high=None)]
    return [*steps, BandStep(at=end, mean=baseline.mean, low=expected[0], high=expected[1])]


def _step(at: datetime, held_against: Judged | Beside) -> BandStep:
    """The limits of a value; without limits the band is interrupted."""
    lower, upper = held_against.lower, held_against.upper
    mean = None if lower is None else held_against.centre
    return BandStep(at=at, mean=mean, low=lower, high=upper)


def _ewma(phases: Sequence[BenchPhase], shown: Shown) -> list[tuple[datetime, float | None]]:
    means: list[tuple[datetime, float | None]] = []
    for phase in phases:
        of_phase = [one for one in phase.judged if shown.covers(one.point.at)]
        means += [(one.point.at, one.ewma) for one in of_phase]
        means += [(one.point.at, None) for one in of_phase[-1:]]
    return means


def _event(event: BenchEvent) -> Change:
    words = Truncator(event.words).chars(60)
    kind = event.get_kind_display()
    return Change(at=event.at, words=f"{_day(event.at)}: {kind}<br>{words}".removesuffix("<br>"))


def _plotted(judged: Judged, row: BenchHistory, runs: Runs) -> Point:
    point, approval = judged.point, judged.point.approval
    half = approval.half_width_j_per_k
    return Point(
        at=point.at,
        j_per_k=approval.c_j_per_k,
        low=None if half is None else approval.c_j_per_k - half,
        high=None if half is None else approval.c_j_per_k + half,
        state=_mark_of(point, row.in_force.pk if row.in_force else None),
        words=words_of(judged, runs),
    )


def words_of(judged: Judged, runs: Runs) -> str:
    """Group, day and standing, then the runs with their C, as read on pointing at a point."""
    point = judged.point
    lines = [f"group {point.group}, {_day(point.at)}: {judged.standing}"]
    if point.exclusion:
        lines.append(f"left out: {point.exclusion.cause}")
    behind = [
        f"run {run.replicate} {shown_number(run.c_j_per_k, 0)}" for run in runs.get(point.pk, [])
    ]
    lines += [", ".join(behind)] if behind else []
    return "<br>".join([*lines, f"mean of {point.approval.n} runs"])


def _day(moment: datetime) -> str:
    return f"{timezone.localtime(moment):%-d %B %Y}"


def _mark_of(point: Of, in_force: int | None = None) -> str:
    if point.is_withdrawn:
        return "withdrawn"
    if point.exclusion is not None:
        return "set aside"
    return "in force" if in_force == point.pk else "approved"


# attribute of a run's signs, heading, unit, decimals
SIGNS = (
    ("fore_drift_mk_per_min", "Fore drift", "mK/min", 2),
    ("after_drift_mk_per_min", "After drift", "mK/min", 2),
    ("time_to_95", "Time to 95 % of the rise", "s", 0),
    ("noise_mk", "Reading noise", "mK", 2),
)


def wear_figures(
    signs: Sequence[RunSigns], points: Sequence[Of], window: Window
) -> list[dict[str, Any]]:
    """One small chart a sign, then the scatter of the replicates of each standardization."""
    runs = [(run, _words_of_run(run)) for run in signs]
    rows = []
    for name, heading, unit, decimals in SIGNS:
        values = [(run, words, getattr(run, name)) for run, words in runs]
        dots = [
            Sign(
                at=run.at,
                value=value,
                words=f"{words}: {shown_number(value, decimals)} {unit}",
                left_out=run.is_set_aside,
            )
            for run, words, value in values
            if value is not None
        ]
        figure = wear(dots, unit, window)
        rows.append({"id": f"wear-{name.replace('_', '-')}", "heading": heading, "figure": figure})
    scatter = [_scatter(point) for point in points if point.approval.s_j_per_k]
    heading = "Scatter of replicates, s of each standardization"
    figure = wear(scatter, "J/K", window)
    return [*rows, {"id": "wear-scatter", "heading": heading, "figure": figure}]


def _words_of_run(run: RunSigns) -> str:
    set_aside = ", set aside" if run.is_set_aside else ""
    return f"run {run.pk}, {run.kind}, group {run.group}<br>{_day(run.at)}{set_aside}"


def _scatter(point: Of) -> Sign:
    s = point.approval.s_j_per_k or 0.0
    words = f"group {point.group}, {_day(point.at)}<br>s = {shown_number(s, 1)} J/K"
    return Sign(at=point.at, value=s, words=words, left_out=not point.counts)


def textbook_figures(
    row: BenchHistory, window: Window, switched_on: Sequence[str]
) -> list[dict[str, Any]]:
    """The charts switched on, for the newest phase; none while it has no more than its baseline."""
    phase = row.now
    counted = [point for point in phase.points if point.counts]
    n = baseline_count(phase)
    if n < 3 or len(counted) <= n:
        return []
    series = textbook.Series(
        [point.at for point in counted], np.array([p.approval.c_j_per_k for p in counted]), n
    )
    return [
        {"id": f"textbook-{key}", "heading": heading, "figure": draw(series, window)}
        for switch in switched_on
        for key, heading, draw in textbook.CHARTS.get(switch, [])
    ]


def beside_figure(beside: Beside, at: datetime) -> Any:
    """The newest points of the phase with their band, and the value to be decided on."""
    judged = beside.phase.judged[-BESIDE_POINTS:]
    if not judged:
        return None
    points = [
        Point(
            at=one.point.at, j_per_k=one.point.approval.c_j_per_k, low=None, high=None,
            state=_mark_of(one.point), words=words_of(one, {}),
        )
        for one in judged
    ]  # fmt: skip
    steps = [_step(before.point.at, one) for before, one in pairwise(judged)]
    steps.append(_step(judged[-1].point.at, beside))
    new = Point(
        at=at, j_per_k=beside.value, low=None, high=None, state="put forward",
        words="the value to be decided on",
    )  # fmt: skip
    return history([*points, new], steps, [], until=at, height=300)

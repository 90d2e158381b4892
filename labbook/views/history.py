"""One bench's heat-capacity history: the page, its tables, and what is decided about it."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db.models import prefetch_related_objects
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.text import capfirst
from django.views.decorators.http import require_POST

from ..access import may, require
from ..actions import history as actions
from ..exchange.tables import csv_response
from ..forms.history import ShownForm
from ..lookups.bench_log import upkeep
from ..lookups.benches import changes_between, configurations_of, visible_benches
from ..lookups.devices import heartbeats
from ..lookups.history import EVER, history_of
from ..lookups.phases import BenchHistory, Judged
from ..lookups.points import runs_behind
from ..lookups.services import firings_by_vessel
from ..lookups.switches import OWN_EWMA, switches
from ..lookups.what_happened import steps_across, what_happened
from ..models import Bench, BenchConfiguration, BenchEvent, Exclusion, PhaseBreak, Standardization
from ..models.labels import label_of
from ..parts import page
from ..requests import SignedIn
from .history_figures import Runs, Shown, history_figure, shown_of, textbook_figures

NONE_YET = (
    "No standardization of this bench has been approved yet. The first one starts its history."
)
NONE_IN_RANGE = "No standardization of this bench was approved in this time. Choose another."


def bench_history(request: SignedIn, code: str) -> HttpResponse:
    bench = get_object_or_404(visible_benches(request.user), code=code)
    form = ShownForm(request.GET)
    row, everyone = history_of(bench, request.user, form.range()[0])
    moved = row.standing in ("watch", "out of line")
    configurations = configurations_of(bench)
    configuration = configurations[-1] if configurations else None
    context = {
        "bench": bench,
        "row": row,
        "happened": what_happened(row, everyone) if moved else None,
        **_phases(row),
        "changes": changes_between(configurations),
        "configuration": configuration,
        "configuration_facts": _facts(configuration),
        "may_change": may(request.user, "change bench", bench),
        "upkeep": upkeep(request.user, [bench])[bench.pk],
        "vessels": firings_by_vessel(bench),
        "heartbeats": heartbeats(bench),
        "form": form,
        "switches": switches(row.now),
        **_charts(shown_of(row, form), form),
    }
    status = 200 if form.is_valid() else 422
    return page(request, "benches/detail.html", context, part="shown", status=status)


def _phases(row: BenchHistory) -> dict[str, Any]:
    """Breaks that wait for a coordinator, those decided on, and the limits frozen."""
    steps = steps_across(row)
    prefetch_related_objects([step.cut for step in steps], "decided_by")
    merged = row.bench.breaks.filter(state=PhaseBreak.State.MERGED)
    return {
        "proposed": [step for step in steps if step.cut.state == PhaseBreak.State.PROPOSED],
        "decided": [step for step in steps if step.cut.state == PhaseBreak.State.CONFIRMED],
        "merged": merged.select_related("decided_by"),
        "limits": row.bench.frozen_limits.select_related("by"),
    }


def _charts(shown: Shown, form: ShownForm) -> dict[str, Any]:
    row, switched_on = shown.row, form.switched_on
    events = BenchEvent.objects.filter(bench=row.bench, at__range=shown.window)
    runs = runs_behind(one.point for one in shown.judged)
    with_ewma = OWN_EWMA in switched_on
    return {
        "judged": shown.judged,
        "figure": history_figure(shown, runs, events, with_ewma=with_ewma)
        if shown.judged
        else None,
        "textbook": textbook_figures(row, shown.window, switched_on),
        "switched_on": switched_on,
        "only_own": switched_on == [OWN_EWMA],
        "none_shown": NONE_IN_RANGE if row.points else NONE_YET,
    }


def bench_points(request: SignedIn, code: str) -> HttpResponse:
    """The figures of the chart as a table: a page, and a part of the bench's page."""
    bench = get_object_or_404(visible_benches(request.user), code=code)
    form = ShownForm(request.GET)
    row, _ = history_of(bench, request.user, form.range()[0])
    context = {"bench": bench, "row": row, "judged": shown_of(row, form).judged}
    return page(request, "benches/points.html", context, part="points")


FACTS = (
    *BenchConfiguration.PARTS, "jacket_kind", "thermometer_step_k", "nominal_water_g",
    "bomb_volume_ml", "max_charge_g", "max_energy_kj", "max_oxygen_atm",
)  # fmt: skip


def _facts(configuration: BenchConfiguration | None) -> list[tuple[str, object]]:
    if configuration is None:
        return []
    return [
        (capfirst(label_of(configuration, name)), getattr(configuration, name)) for name in FACTS
    ]


HISTORY_COLUMNS = (
    "standardization", "approved_at", "term", "group", "c_j_per_k", "half_width_95_j_per_k",
    "s_j_per_k", "runs", "runs_c_j_per_k", "state", "phase", "standing", "centre_j_per_k",
    "lower_j_per_k", "upper_j_per_k", "baseline_n", "ewma_j_per_k", "left_out_for",
)  # fmt: skip


def bench_table(request: SignedIn, code: str) -> HttpResponse:
    """Every figure of the history, from the first value on, as CSV."""
    bench = get_object_or_404(visible_benches(request.user), code=code)
    row, _ = history_of(bench, request.user, EVER)
    runs = runs_behind(row.points)
    rows = (
        _history_row(phase.number, judged, runs) for phase in row.phases for judged in phase.judged
    )
    return csv_response(f"bench-{bench.code}-history.csv", HISTORY_COLUMNS, rows)


def _history_row(phase: int, judged: Judged, runs: Runs) -> list[object]:
    point, approval = judged.point, judged.point.approval
    return [
        point.pk,
        point.at.isoformat(),
        point.term,
        point.group,
        approval.c_j_per_k,
        approval.half_width_j_per_k,
        approval.s_j_per_k,
        approval.n,
        " ".join(str(run.c_j_per_k) for run in runs[point.pk]),
        point.state,
        phase,
        judged.standing,
        judged.centre,
        judged.lower,
        judged.upper,
        judged.n,
        judged.ewma,
        point.exclusion.cause if point.exclusion else "",
    ]


@require_POST
def decide_break(request: SignedIn, pk: int) -> HttpResponse:
    require(request.user, "change bench")
    cut = get_object_or_404(PhaseBreak, pk=pk)
    sent = request.POST
    actions.decide_break(cut, sent.get("state", ""), sent.get("reason", ""), by=request.user)
    messages.success(request, "Decided. The history is drawn accordingly.")
    return redirect("bench", cut.bench.code)


@require_POST
def freeze_limits(request: SignedIn, code: str) -> HttpResponse:
    require(request.user, "change bench")
    found = get_object_or_404(Bench, code=code)
    actions.freeze_limits(found, request.POST.get("reason", ""), by=request.user)
    messages.success(request, "Frozen. Later values are held against these limits.")
    return redirect("bench", found.code)


@require_POST
def exclude_point(request: SignedIn, pk: int) -> HttpResponse:
    """Leave a point out of the statistics, or take it in again."""
    require(request.user, "change bench")
    found = get_object_or_404(Standardization, pk=pk)
    reason = request.POST.get("reason", "")
    excluded = Exclusion.objects.filter(standardization=found, ended_at__isnull=True).first()
    if excluded is None:
        actions.exclude_point(found, reason, by=request.user)
        messages.success(request, "Left out of the statistics. It is still drawn.")
    else:
        actions.take_point_in(excluded, reason, by=request.user)
        messages.success(request, "Taken in again.")
    return redirect("bench", found.bench.code)

"""All benches, and one bench's heat-capacity history."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.text import capfirst

from ..access import may, require
from ..actions.setup import change_configuration
from ..exchange.tables import csv_response
from ..forms.setup import ConfigurationForm
from ..lookups.benches import (
    BenchStanding,
    Change,
    Point,
    all_benches,
    changes_of,
    history_of,
    visible_benches,
)
from ..models import Bench, BenchConfiguration
from ..models.labels import label_of
from ..parts import page
from ..plots.history import BandStep, history
from ..plots.history import Change as Mark
from ..plots.history import Point as PlottedPoint
from ..plots.trace import trace
from ..requests import SignedIn


def benches(request: SignedIn) -> HttpResponse:
    rows = [_tile(row) for row in all_benches(request.user)]
    context = {"benches": rows, "may_set_up": may(request.user, "set up")}
    return page(request, "benches/list.html", context)


def _tile(row: BenchStanding) -> dict[str, object]:
    approved = row.in_force
    values = [point.c_j_per_k for point in row.points if not point.is_withdrawn]
    return {
        "bench": row.bench,
        "name": capfirst(str(row.bench)),
        "url": f"/benches/{row.bench.code}/",
        "standing": row.standing,
        "heat_capacity": approved.approved_c_j_per_k if approved else None,
        "u": approved.approved_half_width_j_per_k if approved else None,
        "note": _note(row),
        "trace": trace(values, title=f"Heat capacity of {row.bench}, oldest to newest"),
        "busy": ", ".join(f"{run.group} {run.get_state_display()}" for run in row.busy),
    }


def _note(row: BenchStanding) -> str:
    if not row.bench.in_service:
        return "Out of service."
    if row.in_force is None:
        return "No approval in force: unknowns wait for a standardization."
    approved = timezone.localtime(row.in_force.approved_at)
    return f"In force since {approved:%-d %B %Y}, {row.in_force.approved_n} runs."


def bench(request: SignedIn, code: str) -> HttpResponse:
    found = get_object_or_404(visible_benches(request.user), code=code)
    row, changes = history_of(request.user, found), changes_of(found)
    context = {
        "bench": found,
        "row": row,
        "changes": changes,
        "configuration": found.configuration,
        "figure": _figure(row, changes) if row.points else None,
        "configuration_facts": _facts(found.configuration),
        "may_change": may(request.user, "change bench", found),
    }
    return page(request, "benches/detail.html", context)


def _figure(row: BenchStanding, changes: list[Change]) -> Any:
    return history(
        [_plotted(point) for point in row.points],
        [_band_step(point) for point in row.points],
        [Mark(at=change.configuration.since, words=change.short) for change in changes],
    )


def _band_step(point: Point) -> BandStep:
    at, earlier = point.approval.at, point.earlier
    if earlier is None:
        return BandStep(at=at, mean=None, low=None, high=None)
    return BandStep(at=at, mean=earlier.mean, low=earlier.lower, high=earlier.upper)


def _plotted(point: Point) -> PlottedPoint:
    approval, c = point.approval, point.c_j_per_k
    half, approved = approval.half_width_j_per_k, timezone.localtime(approval.at)
    state = "in force" if point.is_in_force else "withdrawn" if point.is_withdrawn else "approved"
    return PlottedPoint(
        at=approval.at,
        j_per_k=c,
        low=None if half is None else c - half,
        high=None if half is None else c + half,
        state=state,
        words=f"group {point.standardization.group}, {approval.n} runs, {approved:%-d %B %Y}",
    )


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
    "approved_at", "term", "group", "c_j_per_k", "half_width_95_j_per_k", "s_j_per_k", "runs",
    "state", "earlier_mean_j_per_k", "earlier_s_j_per_k", "earlier_n", "standing",
)  # fmt: skip


def bench_table(request: SignedIn, code: str) -> HttpResponse:
    """The figures of the history as CSV."""
    found = get_object_or_404(visible_benches(request.user), code=code)
    points = history_of(request.user, found).points
    name = f"bench-{found.code}-history.csv"
    return csv_response(name, HISTORY_COLUMNS, (_history_row(point) for point in points))


def _history_row(point: Point) -> list[object]:
    approval, of, earlier = point.approval, point.standardization, point.earlier
    return [
        approval.at.isoformat(),
        of.group.section.term.name,
        of.group.code,
        approval.c_j_per_k,
        approval.half_width_j_per_k,
        approval.s_j_per_k,
        approval.n,
        of.state,
        *((earlier.mean, earlier.s, earlier.n) if earlier else ("", "", "")),
        point.standing,
    ]


def change_bench(request: SignedIn, code: str) -> HttpResponse:
    """Record a new configuration: a part changed, the nominal water, a limit."""
    found = get_object_or_404(Bench, code=code)
    require(request.user, "change bench", found)
    form = ConfigurationForm(request.POST or None, bench=found)
    if request.method == "POST" and form.is_valid():
        change_configuration(form.save(commit=False), by=request.user)
        messages.success(request, f"Recorded. Approvals of {found} from before have lapsed.")
        return redirect("bench", found.code)
    status = 422 if request.method == "POST" else 200
    return page(request, "benches/form.html", {"form": form, "bench": found}, status=status)

"""All benches at a glance and side by side over the years, and recording what one consists of."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.text import capfirst

from ..access import may, require
from ..actions.setup import change_configuration
from ..forms.history import ShownForm
from ..forms.setup_forms import ConfigurationForm
from ..lookups.bench_log import upkeep
from ..lookups.history import EVER, histories
from ..lookups.phases import BenchHistory, Judged
from ..lookups.standardizations import approval_in_force
from ..models import Bench
from ..parts import page
from ..plots.across import Share, across
from ..plots.theme import shown
from ..plots.trace import trace
from ..requests import SignedIn
from .history_figures import words_of

# The common scale of the comparison is never finer than this, in per cent.
LEAST_REACH = 1.0
TRACED = 24
EDGE = timedelta(days=14)


def benches(request: SignedIn) -> HttpResponse:
    found = histories(request.user)
    needs = upkeep(request.user, [row.bench for row in found])
    rows = [_tile(row) | {"upkeep": needs[row.bench.pk]} for row in found]
    context = {"benches": rows, "may_set_up": may(request.user, "set up")}
    return page(request, "benches/list.html", context)


def _tile(row: BenchHistory) -> dict[str, object]:
    approval = row.in_force.approval if row.in_force else None
    values = [point.approval.c_j_per_k for point in row.points if point.counts][-TRACED:]
    return {
        "bench": row.bench,
        "name": capfirst(str(row.bench)),
        "url": f"/benches/{row.bench.code}/",
        "standing": row.standing,
        "heat_capacity": approval.c_j_per_k if approval else None,
        "u": approval.half_width_j_per_k if approval else None,
        "note": _note(row),
        "trace": trace(values, title=f"Heat capacity of {row.bench}, oldest to newest"),
        "busy": "; ".join(f"Group {run.group}: run {run.get_state_display()}" for run in row.busy),
    }


def _note(row: BenchHistory) -> str:
    if not row.bench.in_service:
        return "Out of service."
    approval = row.in_force.approval if row.in_force else None
    if approval is None:
        return "No approval in force: unknowns wait for a standardization."
    return f"In force since {timezone.localtime(approval.at):%-d %B %Y}, {approval.n} runs."


def compare(request: SignedIn) -> HttpResponse:
    """Every bench in per cent of its first baseline, on one scale."""
    form = ShownForm(request.GET)
    rows = histories(request.user, EVER)
    asked = form.range()
    shares = {row.bench.pk: _shares(row, asked) for row in rows}
    everything = [share for found in shares.values() for share in found]
    moments = [one.point.at for row in rows for one in row.judged if one.point.at >= asked[0]]
    begins = asked[0] if form.names_dates else min(moments, default=asked[0]) - EDGE
    reach = max([LEAST_REACH, *(abs(s["percent"]) * 1.1 for s in everything)])
    context = {
        "form": form,
        "reach": reach,
        "benches": [_small(row, shares[row.bench.pk], (begins, asked[1]), reach) for row in rows],
    }
    status = 200 if form.is_valid() else 422
    return page(request, "benches/compare.html", context, part="shown", status=status)


def _shares(row: BenchHistory, asked: tuple[datetime, datetime]) -> list[Share]:
    first = row.first_baseline_j_per_k
    if first is None:
        return []
    return [
        _share(one, phase.number, first)
        for phase in row.phases
        for one in phase.judged
        if asked[0] <= one.point.at <= asked[1]
    ]


def _share(one: Judged, phase: int, first: float) -> Share:
    percent = 100.0 * (one.point.approval.c_j_per_k / first - 1.0)
    return Share(
        at=one.point.at,
        percent=percent,
        phase=phase,
        words=f"{words_of(one, {})}, {shown(percent, 2)} %",
        left_out=not one.point.counts,
    )


def _in_words(shares: list[Share]) -> str:
    kept = [share["percent"] for share in shares if not share["left_out"]]
    if not kept:
        return "No values that count."
    return f"{len(kept)} values from {shown(min(kept), 2)} to {shown(max(kept), 2)} %."


def _small(
    row: BenchHistory, shares: list[Share], window: tuple[datetime, datetime], reach: float
) -> dict[str, Any]:
    breaks = [phase.begins for phase in row.phases if phase.begins]
    inside = [cut for cut in breaks if window[0] <= cut.at <= window[1]]
    return {
        "row": row,
        "id": f"across-{row.bench.code}",
        "words": _in_words(shares),
        "shares": shares,
        "figure": across(shares, [cut.at for cut in inside], window, (-reach, reach)),
    }


def change_bench(request: SignedIn, code: str) -> HttpResponse:
    """Record a new configuration: a part changed, the nominal water, a limit."""
    found = get_object_or_404(Bench, code=code)
    require(request.user, "change bench", found)
    form = ConfigurationForm(request.POST or None, bench=found)
    if request.method == "POST" and form.is_valid():
        was_approved = approval_in_force(found) is not None
        change_configuration(form.save(commit=False), by=request.user)
        lapsed = " The approval in force has lapsed." if was_approved else ""
        messages.success(request, f"Recorded.{lapsed}")
        return redirect("bench", found.code)
    status = 422 if request.method == "POST" else 200
    return page(request, "benches/form.html", {"form": form, "bench": found}, status=status)

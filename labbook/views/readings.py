"""Readings: typed one by one or from a file, and the thermogram with its movable bounds."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from ..actions import readings as actions
from ..actions.sheets import enter_figure
from ..forms.sheet import Row, row_of
from ..forms.whole_numbers import read_whole_number
from ..lookups.outputs import Outputs, outputs_of
from ..lookups.readings import Readings, as_written, files_of, readings_of
from ..lookups.sheets import Sheet
from ..lookups.tracing import origin_of
from ..models import Run
from ..parts import page
from ..plots.thermogram import thermogram
from ..problems import Refused, refuse
from ..requests import SignedIn
from ..sheet import BOUNDS, FIELDS
from .devices import device_context
from .next_step import next_step_context
from .runs import run_or_404
from .sheet import locked_why
from .steps import steps_of
from .typing_state import typing_context
from .writers import writer_of


def run_readings(request: SignedIn, pk: int) -> HttpResponse:
    run, part = run_or_404(request, pk), request.GET.get("part", "")
    if request.htmx and part == "table":
        context = {"run": run, **_table_context(run, readings_of(run))}
        return page(request, "runs/readings.html", context, part="table")
    part = part if part in ("next", "head") else "curve"
    return page(request, "runs/readings.html", readings_context(request, run), part=part)


def reading(request: SignedIn, pk: int, number: int) -> HttpResponse:
    """One reading, back to what was typed or to its bytes in the file."""
    run = run_or_404(request, pk)
    origin = origin_of(run, number)
    if origin is None:
        raise Http404
    context = {"run": run, "tab": "readings", "steps": steps_of(run), "origin": origin}
    return page(request, "runs/reading.html", context)


def _table_context(run: Run, readings: Readings) -> dict[str, Any]:
    return {"readings": readings, "written": as_written(run, newest_first=True)}


def readings_context(request: SignedIn, run: Run) -> dict[str, Any]:
    sheet, readings = Sheet(run), readings_of(run)
    outputs = outputs_of(run, sheet, readings, request.user)
    return {
        "run": run,
        "tab": "readings",
        "steps": steps_of(run),
        **_table_context(run, readings),
        "files": files_of(run, readings),
        "locked_why": "" if run.state in (Run.State.OPEN, Run.State.FIRED) else "finished",
        "may_write": not locked_why(request, run),
        "bounds": _bound_rows(sheet, outputs),
        **typing_context(run, readings),
        **curve_context(run, readings, outputs),
        **device_context(run),
        **next_step_context(request, run, sheet),
    }


def _bound_rows(sheet: Sheet, outputs: Outputs) -> list[Row]:
    """The four bounds; one left blank shows what was found from the curve."""
    periods = outputs.values.get("periods", {})
    rows = [row_of(sheet, FIELDS[key]) for key in BOUNDS]
    for row in rows:
        found = periods.get(row.name)
        row.found = "" if found is None else f"{found:.10g}"
    return rows


NOT_FILLED_IN_YET = ("wire_missing", "titre_missing", "missing_field")


def _worth_saying(run: Run, notes: list[dict[str, str]]) -> list[dict[str, str]]:
    """The notes, without those about fields that there is still time to fill in."""
    if run.is_finished:
        return notes
    return [note for note in notes if note["code"] not in NOT_FILLED_IN_YET]


def curve_context(run: Run, readings: Readings, outputs: Outputs) -> dict[str, Any]:
    context: dict[str, Any] = {
        "outputs": outputs.values,
        "failure": outputs.failure,
        "withheld": outputs.withheld,
        "notes": _worth_saying(run, outputs.notes),
    }
    if readings.kept_count:
        context["figure"] = thermogram(*readings.kept(), outputs.drawn)
    return context


@require_POST
def strike_readings(request: SignedIn, pk: int) -> HttpResponse:
    run, sent = run_or_404(request, pk), request.POST
    first = read_whole_number(sent.get("first", ""))
    last = read_whole_number(sent["last"]) if sent.get("last") else first
    if first is None or last is None:
        raise refuse("number", "Give the number of the reading to strike out, such as 12.", "first")
    actions.strike_readings(
        run,
        first,
        last,
        sent.get("reason", ""),
        by=request.user,
        entered_by=writer_of(request, run),
    )
    return redirect("run_readings", run.pk)


@require_POST
def move_bound(request: SignedIn, pk: int) -> HttpResponse:
    """Save whichever bounds were sent and redraw the curve with them."""
    run = run_or_404(request, pk)
    writer, typed, problem = writer_of(request, run), {}, ""
    for key in BOUNDS:
        if key not in request.POST:
            continue
        try:
            enter_figure(
                run,
                key,
                request.POST[key],
                by=request.user,
                entered_by=writer,
                reason=request.POST.get("reason", ""),
            )
        except Refused as refused:
            typed[key], problem = request.POST[key], str(refused)
    run = run_or_404(request, pk)
    context = readings_context(request, run) | {"bound_error": problem}
    for row in context["bounds"]:
        row.value = typed.get(row.name, row.value)
    if not request.htmx and not problem:
        return redirect("run_readings", run.pk)
    status = 422 if problem else 200
    return page(request, "runs/readings.html", context, part="curve", status=status)

"""Readings: typed one by one or from a file, and the thermogram with its movable bounds."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_POST
from django_htmx.http import HttpResponseClientRedirect

from ..actions import readings as actions
from ..actions.sheets import enter_figure
from ..forms.logger_file import choices_from, items_of
from ..forms.sheet import Row, row_of
from ..forms.whole_numbers import read_whole_number
from ..intake import Preview, Refusal, preview
from ..lookups.outputs import Outputs, outputs_of
from ..lookups.readings import Readings, as_written, other_runs_with, readings_of
from ..lookups.runs import visible_files
from ..lookups.sheets import Sheet
from ..models import LoggerFile, Run
from ..parts import page
from ..plots.thermogram import thermogram
from ..problems import Problem, Refused, refuse
from ..requests import SignedIn
from ..sheet import BOUNDS, FIELDS
from .runs import run_or_404
from .sheet import locked_why, next_step_context
from .steps import steps_of
from .writers import writer_of

LARGEST_FILE = 5 * 1024 * 1024


def run_readings(request: SignedIn, pk: int) -> HttpResponse:
    run = run_or_404(request, pk)
    return page(request, "runs/readings.html", readings_context(request, run), part="curve")


def readings_context(request: SignedIn, run: Run) -> dict[str, Any]:
    sheet, readings = Sheet(run), readings_of(run)
    outputs = outputs_of(run, sheet, readings)
    return {
        "run": run,
        "tab": "readings",
        "steps": steps_of(run),
        "readings": readings,
        "written": as_written(run, newest_first=True),
        "files": run.files.select_related("by"),
        "next_time": _next_slot(run, readings),
        "locked_why": "" if run.state in (Run.State.OPEN, Run.State.FIRED) else "finished",
        "may_write": not locked_why(request, run),
        "bounds": _bound_rows(sheet, outputs),
        **curve_context(run, readings, outputs),
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
        "notes": _worth_saying(run, outputs.values.get("notes", [])),
    }
    if readings.kept_count:
        context["figure"] = thermogram(*readings.kept(), outputs.values or None)
    return context


def _next_slot(run: Run, readings: Readings) -> str:
    """The time of the next reading, one interval after the last."""
    if not len(readings):
        return "0"
    return f"{readings.times_s.max() + run.method.reading_interval_s:g}"


@require_POST
def add_typed_reading(request: SignedIn, pk: int) -> HttpResponse:
    run = run_or_404(request, pk)
    time, temperature = request.POST.get("time", ""), request.POST.get("temperature", "")
    writer = writer_of(request, run)
    try:
        kept = actions.add_typed_reading(run, time, temperature, by=request.user, entered_by=writer)
    except Refused as refused:
        context = readings_context(request, run)
        context |= {"next_time": time, "typed": temperature, "typing_error": str(refused)}
        return page(request, "runs/readings.html", context, part="typing", status=422)
    if not request.htmx:
        return redirect("run_readings", run.pk)
    context = readings_context(request, run) | {"just_saved": kept, "refocus": True}
    return page(request, "runs/readings.html", context, part="after_typing")


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


@require_POST
def hand_in_file(request: SignedIn, pk: int) -> HttpResponse:
    """Keep the file's bytes at once; what is made of them is decided on the next page."""
    run = run_or_404(request, pk)
    sent = request.FILES.get("file")
    if sent is None:
        raise refuse("no file", "No file was sent. Choose the logger’s file first.", "file")
    name, size = sent.name or "file", sent.size or 0
    if size > LARGEST_FILE:
        sentence = f"{name} has {size / 2**20:.1f} MB; at most 5 MB are taken. Cut it to this run."
        raise refuse("too large", sentence, "file")
    file = actions.keep_file(run, name, sent.read(), by=request.user)
    address = reverse("file", args=[file.pk])
    return HttpResponseClientRedirect(address) if request.htmx else redirect(address)


def file_preview(request: SignedIn, pk: int) -> HttpResponse:
    """What was understood of a file, each item changeable; its readings are used on request."""
    file = get_object_or_404(visible_files(request.user), pk=pk)
    run = run_or_404(request, file.run_id)
    sent = request.POST if request.method == "POST" else request.GET
    understood, refusal, first_rows = _understand(file, sent)
    if request.method == "POST" and understood is not None and "use" in sent:
        block = actions.use_file(
            file, understood, by=request.user, entered_by=writer_of(request, run)
        )
        messages.success(request, f"{block.count} readings taken from {file.name}.")
        return redirect("run_readings", run.pk)
    context = {
        "run": run,
        "tab": "readings",
        "steps": steps_of(run),
        "file": file,
        "understood": understood,
        "refusal": refusal,
        "items": items_of(understood, sent),
        "first_rows": first_rows,
        "chosen": sent,
        "asked": {question.code for question in understood.questions} if understood else (),
        "replaces": readings_of(run).kept_count,
        "known": _known_elsewhere(file, run),
    }
    if understood is not None and understood.readings:
        start = understood.first_time_s or 0.0
        times, temperatures = zip(*understood.readings, strict=True)
        context["figure"] = thermogram([start + t for t in times], temperatures, None)
    return page(request, "runs/file.html", context, part="understood")


def _understand(
    file: LoggerFile, sent: Mapping[str, str]
) -> tuple[Preview | None, str, tuple[str, ...]]:
    """What was understood, or the sentence that refuses it; and the file's first rows."""
    try:
        understood = preview(bytes(file.content), choices=choices_from(sent))
    except Refusal as refusal:
        return None, refusal.sentence, refusal.first_rows
    return understood, "", understood.first_rows


def _known_elsewhere(file: LoggerFile, run: Run) -> list[Problem]:
    others = other_runs_with(file.sha256, run)
    if not others:
        return []
    own = [other for other in others if other.group_id == run.group_id]
    named = ", ".join(str(other) for other in own) or "a run of another group"
    sentence = f"This file was already used for {named}. Is it the right one?"
    return [Problem("file used before", "W", sentence)]

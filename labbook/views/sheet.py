"""The run sheet: filled in field by field, in bench order."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from ..access import may
from ..actions import sheets as actions
from ..cautions import CAUTIONS
from ..forms.notes import ShownNote, changed, notes_by_field
from ..forms.sheet import fuse_units, row_of, rows_of
from ..forms.whole_numbers import read_whole_number
from ..lookups.sheets import Sheet
from ..models import Run
from ..parts import page
from ..problems import Conflict, Refused
from ..requests import SignedIn
from ..sheet import FIELDS
from .next_step import may_answer, next_step_context, problems_before
from .noted import happenings_context
from .presence import presence_context, save_presence
from .runs import run_or_404
from .steps import steps_of
from .writers import writer_of

Notes = dict[str, list[ShownNote]]


def run_sheet(request: SignedIn, pk: int) -> HttpResponse:
    """The whole sheet; a browser without scripts posts all of it at once."""
    run = run_or_404(request, pk)
    if request.method != "POST":
        return page(request, "runs/sheet.html", sheet_context(request, run))
    refused = save_all(request, run)
    if not refused:
        return redirect("run", run.pk)
    return sheet_with(request, run_or_404(request, pk), refused)


def save_all(request: SignedIn, run: Run) -> dict[str, tuple[str, str]]:
    """Save every field that was sent; for those refused, what was typed and why."""
    refused = {}
    if "shown" in request.POST:
        try:
            save_presence(request, run)
        except Refused as problem:
            refused["present"] = ("", str(problem))
    for key in FIELDS:
        if key not in request.POST:
            continue
        try:
            _enter(request, run, key)
        except Refused as problem:
            refused[key] = (request.POST[key], str(problem))
    return refused


def _enter(request: SignedIn, run: Run, key: str) -> None:
    """Append what was sent for one field, on the strength of what its page showed."""
    actions.enter_figure(
        run,
        key,
        request.POST.get(key, ""),
        by=request.user,
        entered_by=writer_of(request, run),
        based_on=_version_seen(request, key),
        reason=request.POST.get("reason", ""),
    )


def sheet_with(
    request: SignedIn, run: Run, refused: dict[str, tuple[str, str]], reason: str = ""
) -> HttpResponse:
    """The sheet with what was refused still in its fields, and the sentences that say why."""
    context = sheet_context(request, run)
    context["presence_error"] = refused.get("present", ("", ""))[1]
    for row in (row for part in context["parts"] for row in part.rows):
        if row.name in refused:
            row.value, row.error = refused[row.name]
            row.reason = reason
    return page(request, "runs/sheet.html", context, status=422)


def sheet_context(request: SignedIn, run: Run) -> dict[str, Any]:
    sheet = Sheet(run)
    against = problems_before(run, sheet)
    notes = notes_by_field(sheet, against)
    return {
        "tab": "sheet",
        "sheet": sheet,
        "parts": rows_of(sheet, notes, locked_why=locked_why(request, run)),
        "steps": steps_of(run),
        "cautions": CAUTIONS,
        **presence_context(request, run),
        **happenings_context(run),
        **next_step_context(request, run, sheet, notes, against),
    }


def locked_why(request: SignedIn, run: Run) -> str:
    if not may(request.user, "fill in sheet", run):
        return "Only the group and its TAs write on this sheet."
    if run.state in (Run.State.SIGNED, Run.State.SET_ASIDE):
        return f"This run is {run.get_state_display()}."
    if run.standardization is not None and not run.standardization.is_editable:
        return f"The standardization is {run.standardization.get_state_display()}."
    return ""


@require_POST
def enter_figure(request: SignedIn, pk: int, key: str) -> HttpResponse:
    """Save one field. htmx gets the field back with its stamp; a plain form, the whole sheet."""
    run = run_or_404(request, pk)
    if key not in FIELDS:
        raise Http404
    before = _notes(run) if request.htmx else {}
    try:
        _enter(request, run, key)
    except Conflict as conflict:
        return _conflict(request, run, key, conflict)
    except Refused as refused:
        return _refused_field(request, run, key, refused)
    if not request.htmx:
        return redirect("run", run.pk)
    context = _saved_context(request, run, key, before)
    return page(request, "runs/field.html", context, part="saved")


def _notes(run: Run) -> Notes:
    sheet = Sheet(run)
    return notes_by_field(sheet, problems_before(run, sheet))


def _saved_context(request: SignedIn, run: Run, key: str, before: Notes) -> dict[str, Any]:
    run = run_or_404(request, run.pk)
    sheet = Sheet(run)
    against = problems_before(run, sheet)
    notes = notes_by_field(sheet, against)
    return {
        "run": run,
        "field": row_of(sheet, FIELDS[key], notes),
        "changed": [pair for pair in changed(before, notes) if pair[0] != key],
        "units": fuse_units(sheet) if key == "fuse_lot" else [],
        **next_step_context(request, run, sheet, notes, against),
    }


def _version_seen(request: SignedIn, key: str) -> int | None:
    return read_whole_number(request.POST.get(f"seen_{key}", ""))


def _refused_field(request: SignedIn, run: Run, key: str, refused: Refused) -> HttpResponse:
    """The field again with what was typed, and the sentence that says why it was not saved."""
    text, reason = request.POST.get(key, ""), request.POST.get("reason", "")
    if not request.htmx:
        return sheet_with(request, run, {key: (text, str(refused))}, reason)
    row = row_of(Sheet(run), FIELDS[key], _notes(run))
    row.value, row.error = text, str(refused)
    context = {"field": row, "run": run, "may_answer": may_answer(request, run)}
    return page(request, "runs/field.html", context, part="refused", status=422)


def _conflict(request: SignedIn, run: Run, key: str, conflict: Conflict) -> HttpResponse:
    row = row_of(Sheet(run), FIELDS[key])
    context = {
        "conflict": {
            "name": key,
            "label": row.label,
            "unit": row.unit,
            "yours": conflict.yours,
            "theirs": conflict.theirs.text,
            "theirs_by": str(conflict.theirs.entered_by or conflict.theirs.by),
            "theirs_at": conflict.theirs.at,
            "url": row.url,
            "version": conflict.theirs.pk,
        },
        "run": run,
    }
    return page(request, "runs/conflict.html", context, part="conflict", status=409)

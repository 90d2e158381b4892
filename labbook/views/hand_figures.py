"""The group's own figures of a run: the plain curve, the fields in the order of the work."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from reduction.hand.steps import STEPS

from ..access import may
from ..actions import hand_figures as actions
from ..forms.hand_figures import HandRow, hand_row, hand_rows
from ..forms.whole_numbers import read_whole_number
from ..lookups.hand_comparison import comparison_of
from ..lookups.hand_figures import HandFigures, literature_of
from ..lookups.readings import readings_of
from ..lookups.unlocking import is_unlocked, withheld_words
from ..models import Run
from ..parts import page
from ..plots.thermogram import thermogram
from ..problems import Conflict, Refused
from ..problems.hand_figures import with_hand_figures
from ..requests import SignedIn
from .runs import run_or_404
from .steps import steps_of
from .writers import writer_of


def hand_figures(request: SignedIn, pk: int) -> HttpResponse:
    """The whole page; a browser without scripts posts all its fields at once."""
    run = run_or_404(request, pk)
    if request.method != "POST":
        return page(request, "hand_figures/page.html", _context(request, run))
    refused = {}
    for key in HandFigures(run).keys:
        if key in request.POST:
            try:
                _enter(request, run, key)
            except Refused as problem:
                refused[key] = problem
    if not refused:
        return redirect("hand_figures", run.pk)
    context = _context(request, run)
    for row in context["rows"]:
        if row.name in refused:
            _as_sent(request, row, refused[row.name])
    return page(request, "hand_figures/page.html", context, status=422)


def _enter(request: SignedIn, run: Run, key: str) -> None:
    actions.enter_hand_figure(
        run,
        key,
        request.POST.get(key, ""),
        request.POST.get(f"unit_{key}", ""),
        by=request.user,
        entered_by=writer_of(request, run),
        based_on=read_whole_number(request.POST.get(f"seen_{key}", "")),
    )


def _as_sent(request: SignedIn, row: HandRow, refused: Refused) -> None:
    """What was typed stays in its field, with the sentence that says why it was not saved."""
    row.value, row.error = request.POST.get(row.name, ""), str(refused)
    sent = request.POST.get(f"unit_{row.name}", "")
    row.unit = sent if sent in row.units else row.unit
    row.is_contested = isinstance(refused, Conflict)


def _context(request: SignedIn, run: Run) -> dict[str, Any]:
    hand, readings = HandFigures(run), readings_of(run)
    writes = may(request.user, "enter hand figures", run)
    return {
        "run": run,
        "tab": "hand figures",
        "steps": steps_of(run),
        "figure": thermogram(*readings.kept(), None) if readings.kept_count else None,
        "rows": hand_rows(hand, locked=not writes),
        "saved": hand.saved,
        "writes": writes,
        "comparison": comparison_of(run, request.user),
        "literature": literature_of(run),
        "may_confirm": may(request.user, "confirm literature", run),
        **_next(request, run, hand),
    }


def _next(request: SignedIn, run: Run, hand: HandFigures) -> dict[str, Any]:
    """What still stands against the figures standing, and what waits for that."""
    return {
        "against": [] if hand.saved else with_hand_figures(hand),
        "withheld": "" if is_unlocked(request.user, run) else withheld_words(run),
    }


@require_POST
def enter_hand_figure(request: SignedIn, pk: int, key: str) -> HttpResponse:
    """Save one figure with its unit; htmx gets the field back."""
    run = run_or_404(request, pk)
    if key not in STEPS:
        raise Http404
    try:
        _enter(request, run, key)
    except Refused as refused:
        return _refused(request, run, key, refused)
    if not request.htmx:
        return redirect("hand_figures", run.pk)
    hand = HandFigures(run)
    context = {
        "run": run,
        "field": hand_row(hand, key),
        "saved": hand.saved,
        "writes": True,
        **_next(request, run, hand),
    }
    return page(request, "hand_figures/page.html", context, part="entered")


def _refused(request: SignedIn, run: Run, key: str, refused: Refused) -> HttpResponse:
    hand = HandFigures(run)
    if not request.htmx or key not in hand.keys:
        raise refused
    row = hand_row(hand, key)
    _as_sent(request, row, refused)
    status = 409 if row.is_contested else 422
    return page(
        request, "hand_figures/page.html", {"run": run, "field": row}, part="refused", status=status
    )


@require_POST
def save_hand_figures(request: SignedIn, pk: int) -> HttpResponse:
    run = run_or_404(request, pk)
    actions.save_hand_figures(run, by=request.user, entered_by=writer_of(request, run))
    messages.success(request, "Your hand figures stand. A correction stays possible, and is dated.")
    return redirect("hand_figures", run.pk)


@require_POST
def cite_literature(request: SignedIn, pk: int) -> HttpResponse:
    """Keep a literature value; a refused one comes back with what was typed."""
    run, sent = run_or_404(request, pk), request.POST
    try:
        actions.cite_literature(
            run,
            sent.get("value", ""),
            sent.get("u", ""),
            source=sent.get("source", ""),
            edition=sent.get("edition", ""),
            place=sent.get("place", ""),
            by=request.user,
            entered_by=writer_of(request, run),
        )
    except Refused as refused:
        context = _context(request, run) | {"cited": sent, "cited_error": str(refused)}
        return page(request, "hand_figures/page.html", context, status=422)
    messages.success(request, "The literature value is kept, with its citation.")
    return redirect("hand_figures", run.pk)


@require_POST
def confirm_literature(request: SignedIn, pk: int, value: int) -> HttpResponse:
    run = run_or_404(request, pk)
    found = get_object_or_404(run.literature, pk=value)
    actions.confirm_literature(found, by=request.user)
    messages.success(request, "Marked as looked up.")
    return redirect("hand_figures", run.pk)

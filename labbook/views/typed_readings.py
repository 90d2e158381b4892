"""Typing readings: saved one by one for the page's script, or as a plain form without it."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from ..actions import typed_readings as actions
from ..forms.whole_numbers import read_whole_number
from ..lookups.typed_readings import reading_sent_before, standing_since
from ..models import Run
from ..parts import page
from ..problems import Doubled, Refused
from ..requests import SignedIn
from .readings import readings_context
from .runs import run_or_404
from .typing_state import clock_of
from .writers import writer_of

LONGEST_WAIT_S = 30 * 86400
LONGEST_KEY = 36


@require_POST
def add_typed_reading(request: SignedIn, pk: int) -> HttpResponse:
    run, sent = run_or_404(request, pk), request.POST
    time, temperature = sent.get("time", ""), sent.get("temperature", "")
    try:
        kept = actions.add_typed_reading(
            run,
            time,
            temperature,
            by=request.user,
            entered_by=writer_of(request, run),
            sent=_sent(request, run),
        )
    except Refused as refused:
        return _not_kept(request, run, refused)
    note = f"{kept.note.sentence} {kept.note.advice}" if kept.note else ""
    if _wants_data(request):
        return _answer(request, run, kept, note)
    if note:
        messages.warning(request, f"{note} If so, strike reading {kept.number} out below.")
    return redirect("run_readings", run.pk)


def _wants_data(request: SignedIn) -> bool:
    return request.headers.get("Accept", "") == "application/json"


def _sent(request: SignedIn, run: Run) -> actions.Sent:
    sent = request.POST
    instead_of = read_whole_number(sent.get("instead_of", ""))
    earlier = reading_sent_before(run, sent.get("instead_of_key", "")[:LONGEST_KEY])
    return actions.Sent(
        page_key=sent.get("page_key", "")[:LONGEST_KEY],
        waited=_waited(sent.get("waited_s", "")),
        beside="beside" in sent,
        instead_of=earlier.first_number if earlier else instead_of,
    )


def _waited(text: str) -> timedelta:
    """How long a reading waited in the browser; what makes no sense counts as no time."""
    try:
        seconds = float(text)
    except ValueError:
        return timedelta(0)
    return timedelta(seconds=seconds if 0 <= seconds <= LONGEST_WAIT_S else 0)


def _answer(request: SignedIn, run: Run, kept: actions.Kept, note: str) -> JsonResponse:
    run.refresh_from_db(fields=["clock_zero_at"])
    known = read_whole_number(request.POST.get("known", "")) or 0
    return JsonResponse(
        {
            "number": kept.number,
            "at": f"{timezone.localtime(kept.at):%H:%M:%S}",
            "note": note,
            "others": standing_since(run, known),
            **clock_of(run),
        }
    )


def _not_kept(request: SignedIn, run: Run, refused: Refused) -> HttpResponse:
    """Asked about or refused: what was typed goes back with the sentence."""
    doubled = refused if isinstance(refused, Doubled) else None
    status = 409 if doubled else 422
    if _wants_data(request):
        return JsonResponse({"sentence": str(refused), **_standing(doubled)}, status=status)
    context = readings_context(request, run) | {
        "next_time": request.POST.get("time", ""),
        "typed": request.POST.get("temperature", ""),
        "typing_error": str(refused),
        "doubled": doubled,
    }
    return page(request, "runs/readings.html", context, status=status)


def _standing(doubled: Doubled | None) -> dict[str, Any]:
    if doubled is None:
        return {}
    standing = doubled.standing
    return {"standing": {"number": standing.number, "temperature": standing.temperature}}


@require_POST
def start_clock(request: SignedIn, pk: int) -> HttpResponse:
    run = actions.start_clock(run_or_404(request, pk), by=request.user)
    return JsonResponse(clock_of(run)) if _wants_data(request) else redirect("run_readings", pk)


@require_POST
def mark_fired_by_clock(request: SignedIn, pk: int) -> HttpResponse:
    """Mark the firing by the clock of the readings, without leaving the typing."""
    run, moment = run_or_404(request, pk), request.POST.get("moment", "")
    try:
        actions.mark_fired_by_this_clock(
            run, moment, by=request.user, entered_by=writer_of(request, run)
        )
    except Refused as refused:
        if not _wants_data(request):
            raise
        sentences = [problem.sentence for problem in refused.problems]
        return JsonResponse({"sentence": " ".join(sentences), "reasons": sentences}, status=409)
    return JsonResponse(clock_of(run)) if _wants_data(request) else redirect("run_readings", pk)

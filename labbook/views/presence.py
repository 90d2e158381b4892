"""Who is here, and who of them writes at this PC."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from ..actions.sheets import note_presence as keep_presence
from ..forms.whole_numbers import read_whole_number
from ..lookups.attendance import may_be_present
from ..lookups.sheets import Sheet
from ..models import Person, Run
from ..parts import page
from ..problems import refuse
from ..requests import SignedIn
from .next_step import next_step_context
from .runs import run_or_404
from .writers import choose_writer, writer_of


def presence_context(request: SignedIn, run: Run) -> dict[str, Any]:
    return {
        "run": run,
        "people": may_be_present(run),
        "present": set(run.present.values_list("pk", flat=True)),
        "writer": writer_of(request, run),
    }


def save_presence(request: SignedIn, run: Run) -> None:
    """Keep who is present, and who of them writes at this PC.

    Only what was changed on the page counts: somebody ticked meanwhile on another PC stays.
    """
    shown, ticked = (_numbers(request, name) for name in ("shown", "present"))
    now = set(run.present.values_list("pk", flat=True)) if "shown" in request.POST else set()
    wanted = (now | ticked) - (shown - ticked)
    keep_presence(run, list(Person.objects.filter(pk__in=wanted)), by=request.user)
    if writer := request.POST.get("writer", ""):
        choose_writer(request, one_present(run, writer, "Who is writing"))


def _numbers(request: SignedIn, name: str) -> set[int]:
    read = (read_whole_number(value) for value in request.POST.getlist(name))
    return {number for number in read if number is not None}


def one_present(run: Run, sent: str, who: str) -> Person:
    person = run.present.filter(pk=read_whole_number(sent)).first()
    if person is None:
        raise refuse("writer", f"{who} must be marked as present.", "writer")
    return person


@require_POST
def note_presence(request: SignedIn, pk: int) -> HttpResponse:
    """Who is present, and who of them is writing at this PC."""
    run = run_or_404(request, pk)
    save_presence(request, run)
    if not request.htmx:
        return redirect("run", run.pk)
    context = presence_context(request, run) | next_step_context(request, run, Sheet(run))
    return page(request, "runs/presence.html", context, part="saved")

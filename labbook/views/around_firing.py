"""Around the firing: the checklist ticked, notes answered, what happened."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from ..access import require
from ..actions import around_firing as actions
from ..forms.notes import notes_by_field
from ..forms.whole_numbers import read_whole_number
from ..lookups.sheets import Sheet
from ..models import Person, Run
from ..parts import page
from ..problems import refuse
from ..requests import SignedIn
from .next_step import next_step_context, problems_before
from .noted import happenings_context
from .presence import one_present
from .runs import run_or_404
from .sheet import save_all, sheet_with
from .writers import choose_ticker, ticker_of, writer_of


@require_POST
def answer_note(request: SignedIn, pk: int, code: str) -> HttpResponse:
    """Keep the answer to a note, given to the sentence that was shown.

    Without scripts the whole sheet comes with it, and is saved first: nothing typed is lost.
    """
    run, sent = run_or_404(request, pk), request.POST
    refused = {} if request.htmx else save_all(request, run)
    actions.answer_note(
        run,
        code,
        sent.get("answer", ""),
        sent.get(f"words_{code}", ""),
        sentence=sent.get(f"sentence_{code}", ""),
        by=request.user,
        entered_by=writer_of(request, run),
    )
    if refused:
        return sheet_with(request, run_or_404(request, pk), refused)
    if not request.htmx:
        return redirect("run", run.pk)
    sheet = Sheet(run)
    against = problems_before(run, sheet)
    notes = notes_by_field(sheet, against)
    field = next((f for f, shown in notes.items() for n in shown if n.problem.code == code), "")
    context = {
        "run": run,
        "changed": [(field, notes[field])] if field else [],
        **next_step_context(request, run, sheet, notes, against),
    }
    return page(request, "runs/note.html", context, part="answered")


@require_POST
def tick_checklist(request: SignedIn, pk: int) -> HttpResponse:
    """Choose who goes through the checklist, and keep the item this person ticked or unticked.

    Without scripts the whole sheet comes with it, and is saved first.
    """
    run, sent = run_or_404(request, pk), request.POST
    require(request.user, "fill in sheet", run)
    refused = {} if request.htmx else save_all(request, run)
    if sent.get("person"):
        choose_ticker(request, one_present(run, sent["person"], "Who ticks the checklist"))
    number = _tick(request, run)
    if refused:
        return sheet_with(request, run_or_404(request, pk), refused)
    if not request.htmx:
        return redirect(f"{reverse('run', args=[run.pk])}#checklist")
    if number is None:
        return HttpResponse(status=204)
    context = {"run": run, **next_step_context(request, run, Sheet(run))}
    item = next(item for item in context["checklist"] if item.number == number)
    return page(request, "runs/checklist.html", context | {"item": item}, part="ticked")


def _tick(request: SignedIn, run: Run) -> int | None:
    """Keep the tick that was sent, or taken back; the number of its item, None without one."""
    for name, action in (("tick", actions.tick_item), ("untick", actions.untick_item)):
        if name in request.POST:
            number = read_whole_number(request.POST[name])
            number = -1 if number is None else number
            action(run, number, _named_ticker(request, run), by=request.user)
            return number
    return None


def _named_ticker(request: SignedIn, run: Run) -> Person:
    person = ticker_of(request, run)
    if person is None:
        raise refuse("person", "Choose first who goes through the checklist.", "person")
    return person


@require_POST
def record_happening(request: SignedIn, pk: int) -> HttpResponse:
    run, sent = run_or_404(request, pk), request.POST
    kind, words = sent.get("kind", ""), sent.get("words", "")
    actions.record_happening(run, kind, words, by=request.user, entered_by=writer_of(request, run))
    if not request.htmx:
        messages.success(request, "Noted under what happened.")
        return redirect("run", run.pk)
    context = {
        "run": run,
        **happenings_context(run),
        **next_step_context(request, run, Sheet(run)),
    }
    return page(request, "runs/happenings.html", context, part="noted")

"""A roster for a term: its preview, and applying what was seen."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from ..access import require
from ..actions.rosters import apply_roster
from ..forms.rosters import RosterForm
from ..lookups.roster_changes import Change, Kind, RosterPlan
from ..lookups.rosters import plan_roster
from ..models import Term
from ..parts import page
from ..problems import Problem, Refused
from ..problems.terms import with_changing_term
from ..requests import SignedIn

MOST_BAD_ROWS = 200
OFFERED = {"drops": True}


@never_cache
def roster(request: SignedIn, pk: int) -> HttpResponse:
    """Choose the file; then see what it would change. Nothing is changed yet."""
    require(request.user, "set up")
    term = get_object_or_404(Term, pk=pk)
    if request.method != "POST":
        form = RosterForm(initial=OFFERED)
        return page(request, "terms/roster.html", {"term": term, "form": form} | _closed(term))
    form = RosterForm(request.POST, request.FILES)
    if not form.is_valid():
        return page(request, "terms/roster.html", {"term": term, "form": form}, status=422)
    return _preview(request, term, form)


@never_cache
@require_POST
def take_roster(request: SignedIn, pk: int) -> HttpResponse:
    """Apply the preview; when the term moved on meanwhile, the new preview comes instead."""
    require(request.user, "set up")
    term = get_object_or_404(Term, pk=pk)
    form = RosterForm(request.POST)
    if not form.is_valid():
        return page(request, "terms/roster.html", {"term": term, "form": form}, status=422)
    name = form.cleaned_data["name"]
    try:
        made = apply_roster(
            term, form.roster, form.options, seen=request.POST.get("seen", ""), name=name,
            sha256=form.sha256, by=request.user,
        )  # fmt: skip
    except Refused as refused:
        return _preview(request, term, form, refused.problems, status=409)
    done = ", ".join(f"{count} {what}" for what, count in made.counts.items() if count)
    messages.success(request, f"The roster is taken in: {done}.")
    return redirect("term", term.pk)


def _preview(
    request: SignedIn,
    term: Term,
    form: RosterForm,
    problems: tuple[Problem, ...] = (),
    status: int = 200,
) -> HttpResponse:
    plan = plan_roster(term, form.roster, form.options)
    context = {
        "term": term,
        "form": form,
        "plan": plan,
        "changes": _by_words(plan),
        "bad": plan.bad[:MOST_BAD_ROWS],
        "more_bad": max(len(plan.bad) - MOST_BAD_ROWS, 0),
        "problems": problems,
    }
    return page(request, "terms/roster.html", context | _closed(term), status=status)


WORDS: dict[Kind, str] = {
    "add": "Added",
    "move": "Moved",
    "rename": "Name, number or id corrected",
    "drop": "Dropped: the membership ends, what they did stays",
}


def _by_words(plan: RosterPlan) -> list[tuple[Kind, str, list[Change]]]:
    return [(kind, words, plan.of_kind(kind)) for kind, words in WORDS.items()]


def _closed(term: Term) -> dict[str, object]:
    return {"closed": with_changing_term(term)}

"""What is kept how long: the preview, removing for good, and holds."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from ..access import require
from ..actions import retention as actions
from ..lookups.retention import due_of, standing_hold
from ..models import LegalHold, Term
from ..parts import page
from ..problems.retention import with_purging
from ..requests import SignedIn


def retention(request: SignedIn, pk: int) -> HttpResponse:
    require(request.user, "set up")
    term = get_object_or_404(Term, pk=pk)
    context = {
        "term": term,
        "dues": [(due, with_purging(due)) for due in due_of(term)],
        "hold": standing_hold(term),
        "holds": term.holds.select_related("by", "lifted_by").exclude(lifted_at=None),
        "purges": term.purges.select_related("by"),
    }
    return page(request, "terms/retention.html", context)


@require_POST
def purge_term(request: SignedIn, pk: int) -> HttpResponse:
    require(request.user, "set up")
    term = get_object_or_404(Term, pk=pk)
    what, typed = request.POST.get("what", ""), request.POST.get("typed", "")
    made = actions.purge(term, what, typed, by=request.user)
    messages.success(request, f"The {made.get_what_display()} of {term} are removed for good.")
    return redirect("retention", pk)


@require_POST
def hold_term(request: SignedIn, pk: int) -> HttpResponse:
    require(request.user, "set up")
    term = get_object_or_404(Term, pk=pk)
    actions.hold_term(term, request.POST.get("reason", ""), by=request.user)
    messages.success(request, f"Everything of {term} is held.")
    return redirect("retention", pk)


@require_POST
def lift_hold(request: SignedIn, pk: int) -> HttpResponse:
    require(request.user, "set up")
    hold = get_object_or_404(LegalHold, pk=pk)
    actions.lift_hold(hold, request.POST.get("reason", ""), by=request.user)
    messages.success(request, f"The hold on {hold.term} is lifted.")
    return redirect("retention", hold.term_id)

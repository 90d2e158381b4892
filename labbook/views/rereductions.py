"""Reducing runs again: choose, look at what moves, then keep it."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from ..access import require
from ..actions import rereductions as actions
from ..forms.rereductions import RereductionForm
from ..lookups.rereductions import moves_of, pending, progress_of
from ..models import Rereduction
from ..parts import page
from ..requests import SignedIn

# Runs done between two looks at the progress: about a second's work.
AT_A_TIME = 12
MOST_SHOWN = 100


def rereductions(request: SignedIn) -> HttpResponse:
    """The form for a new one, and those made before."""
    require(request.user, "rereduce")
    form = RereductionForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        plan = actions.plan_rereduction(
            form.selection(),
            form.cleaned_data["reason"],
            by=request.user,
            method=form.cleaned_data["method"],
        )
        return redirect("rereduction", plan.pk)
    context = {
        "form": form,
        "earlier": Rereduction.objects.select_related("made_by", "applied_by", "method")[:20],
    }
    status = 422 if request.method == "POST" else 200
    return page(request, "rereductions/list.html", context, status=status)


def rereduction(request: SignedIn, pk: int) -> HttpResponse:
    require(request.user, "rereduce")
    plan = get_object_or_404(Rereduction.objects.select_related("made_by", "method"), pk=pk)
    return page(request, "rereductions/detail.html", _context(plan))


def _context(plan: Rereduction) -> dict[str, Any]:
    moves = moves_of(plan)
    return {
        "plan": plan,
        "progress": progress_of(plan),
        "is_working": pending(plan).exists(),
        "moves": moves[:MOST_SHOWN],
        "moved": len(moves),
    }


@require_POST
def work_on(request: SignedIn, pk: int) -> HttpResponse:
    """Do the next few runs; the page asks again until none is left."""
    require(request.user, "rereduce")
    plan = get_object_or_404(Rereduction, pk=pk)
    actions.work_through(plan, AT_A_TIME)
    if not request.htmx:
        return redirect("rereduction", pk)
    return page(request, "rereductions/detail.html", _context(plan), part="work")


@require_POST
def apply_rereduction(request: SignedIn, pk: int) -> HttpResponse:
    plan = get_object_or_404(Rereduction, pk=pk)
    actions.apply_rereduction(plan, by=request.user)
    messages.success(request, "Being kept as new results. The old ones stay with their runs.")
    return redirect("rereduction", pk)

"""Sign-ins: slips for groups, printed once; and who may sign in, with one button to end it."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from ..access import require
from ..actions import sign_ins as actions
from ..exchange.paper.sizes import PAPERS, paper_named
from ..forms.whole_numbers import read_whole_number
from ..lookups.practice import is_of_practice
from ..lookups.sign_ins import held_sign_ins
from ..lookups.terms import closed_sign_ins, groups_of
from ..lookups.terms import sign_ins as open_sign_ins
from ..models import Account, Term
from ..parts import page
from ..requests import SignedIn

ROWS_A_PAGE = 60


@never_cache
def slips(request: SignedIn, pk: int) -> HttpResponse:
    """Choose groups; the answer to the form is the page of slips, which cannot be had again."""
    require(request.user, "set up")
    term = get_object_or_404(Term, pk=pk)
    groups = list(groups_of(term))
    paper = paper_named(request.POST.get("paper", ""))
    if request.method != "POST":
        context = {"term": term, "groups": groups, "papers": PAPERS.values(), "paper": paper}
        return page(request, "terms/slips.html", context)
    wanted = {read_whole_number(number) for number in request.POST.getlist("group")}
    chosen = [group for group in groups if group.pk in wanted]
    made = actions.make_slips(term, chosen, by=request.user)
    context = {
        "term": term,
        "slips": made,
        "paper": paper,
        "address": request.build_absolute_uri("/"),
        "is_practice_term": is_of_practice(term),
    }
    return page(request, "terms/slips_to_print.html", context)


def sign_ins(request: SignedIn) -> HttpResponse:
    require(request.user, "set up")
    text = request.GET.get("find", "")
    context = {
        "page_obj": Paginator(open_sign_ins(text), ROWS_A_PAGE).get_page(request.GET.get("page")),
        "closed": closed_sign_ins(),
        "held": held_sign_ins(),
        "find": text,
    }
    return page(request, "terms/sign_ins.html", context)


@require_POST
def end_sign_in(request: SignedIn, pk: int) -> HttpResponse:
    require(request.user, "set up")
    account = actions.end_sign_in(get_object_or_404(Account, pk=pk), by=request.user)
    sentence = f"{account.username} is out: signed out everywhere, and cannot sign in again."
    messages.success(request, f"{sentence} What was recorded stays.")
    return redirect("sign_ins")


@require_POST
def open_sign_in(request: SignedIn, pk: int) -> HttpResponse:
    require(request.user, "set up")
    account = actions.open_sign_in(get_object_or_404(Account, pk=pk), by=request.user)
    messages.success(request, f"{account.username} may sign in again, with the same password.")
    return redirect("sign_ins")


@require_POST
def lift_sign_in(request: SignedIn) -> HttpResponse:
    """Let a name be tried again that wrong passwords hold."""
    name, where = request.POST.get("name", ""), request.POST.get("at", "")
    actions.lift_hold_on(name, where, by=request.user)
    messages.success(request, f"{name} can be tried again at {where}.")
    return redirect("sign_ins")

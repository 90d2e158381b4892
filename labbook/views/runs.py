"""Runs: the list, opening one, and the deeds that move it on."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from ..access import require
from ..actions import misfires
from ..actions import runs as actions
from ..lookups.benches import visible_benches
from ..lookups.runs import visible_runs
from ..lookups.samples import issue_of
from ..lookups.unlocking import show_results
from ..models import Account, Run, Sample
from ..parts import page
from ..problems import LOCK_WORDS, Refused
from ..problems.samples import not_yours
from ..requests import SignedIn
from .writers import writer_of

RUNS_A_PAGE = 50
STAFF_FILTERS = {"bench": "bench__code", "kind": "kind", "state": "state", "group": "group__code"}


def run_or_404(request: SignedIn, pk: int) -> Run:
    """The run, if it is within this account's reach; otherwise it does not exist for them."""
    return get_object_or_404(visible_runs(request.user), pk=pk)


def run_list(request: SignedIn) -> HttpResponse:
    require(request.user, "see review desk")
    chosen = {name: request.GET.get(name, "") for name in STAFF_FILTERS}
    wanted = {STAFF_FILTERS[name]: value for name, value in chosen.items() if value}
    runs = visible_runs(request.user).filter(**wanted)
    shown = Paginator(runs, RUNS_A_PAGE).get_page(request.GET.get("page"))
    shown.object_list = show_results(request.user, shown.object_list)
    return page(
        request,
        "runs/list.html",
        {
            "page_obj": shown,
            "chosen": chosen,
            "benches": visible_benches(request.user),
            "kinds": Run.Kind.choices,
            "states": Run.State.choices,
        },
        part="runs",
    )


@require_POST
def open_run(request: SignedIn) -> HttpResponse:
    account: Account = request.user
    require(account, "open run", account.group)
    bench = get_object_or_404(visible_benches(account), code=request.POST.get("bench", ""))
    kind = request.POST.get("kind", "")
    if kind == Run.Kind.STANDARDIZATION:
        run = actions.open_standardization_run(bench, by=account)
    elif kind == Run.Kind.UNKNOWN:
        run = actions.open_unknown_run(bench, _sample_on_vial(request), by=account)
    else:
        run = actions.open_other_run(bench, kind, by=account)
    return redirect("run", run.pk)


def _sample_on_vial(request: SignedIn) -> Sample:
    """The group's sample, if it is the label that was sent; no other label is looked up."""
    group = request.user.group
    assert group is not None
    issue = issue_of(group)
    if issue is None or issue.sample.label != request.POST.get("sample", ""):
        raise Refused(not_yours(group, issue))
    return issue.sample


@require_POST
def mark_fired(request: SignedIn, pk: int) -> HttpResponse:
    run = run_or_404(request, pk)
    moment = request.POST.get("moment", "")
    actions.mark_fired(run, moment, by=request.user, entered_by=writer_of(request, run))
    messages.success(request, "Firing marked. Stand clear for at least 20 s.")
    return redirect("run_readings", run.pk)


@require_POST
def unlock_limit(request: SignedIn, pk: int) -> HttpResponse:
    run = run_or_404(request, pk)
    lock, reason = request.POST.get("lock", ""), request.POST.get("reason", "")
    actions.unlock_limit(run, lock, reason, by=request.user)
    messages.success(request, f"Unlocked for the figures as they stand: {LOCK_WORDS[lock]}.")
    return redirect("run", run.pk)


@require_POST
def complete_run(request: SignedIn, pk: int) -> HttpResponse:
    run = actions.complete_run(run_or_404(request, pk), by=request.user)
    messages.success(request, f"{run} is complete.")
    return redirect("run_result", run.pk)


@require_POST
def report_misfire(request: SignedIn, pk: int) -> HttpResponse:
    run, remark = run_or_404(request, pk), request.POST.get("remark", "")
    misfires.report_misfire(run, remark, by=request.user, entered_by=writer_of(request, run))
    messages.success(request, "Set aside as a misfire. It still counts as a firing.")
    return redirect("run", run.pk)


@require_POST
def open_again(request: SignedIn, pk: int) -> HttpResponse:
    """The next run after one that was set aside, with its materials."""
    run = misfires.open_again(run_or_404(request, pk), by=request.user)
    messages.success(request, f"{run} is open, with the materials of the one set aside.")
    return redirect("run", run.pk)


@require_POST
def set_aside(request: SignedIn, pk: int) -> HttpResponse:
    run, sent = run_or_404(request, pk), request.POST
    actions.set_run_aside(run, sent.get("cause", ""), sent.get("remark", ""), by=request.user)
    messages.success(request, f"{run} is set aside. It stays visible and in the firing count.")
    return redirect("run_result", run.pk)


@require_POST
def take_up(request: SignedIn, pk: int) -> HttpResponse:
    run = run_or_404(request, pk)
    actions.take_run_up(run, request.POST.get("reason", ""), by=request.user)
    messages.success(request, f"{run} is taken up again.")
    return redirect("run_result", run.pk)


@require_POST
def sign_run(request: SignedIn, pk: int) -> HttpResponse:
    run = actions.sign_run(run_or_404(request, pk), by=request.user)
    messages.success(request, f"{run} is signed.")
    return redirect("run_result", run.pk)

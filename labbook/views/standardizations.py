"""A standardization on one screen: its runs, what they amount to, and the decision."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from ..access import may, require
from ..actions import standardizations as actions
from ..lookups.afternoons import handovers_of
from ..lookups.beside import Beside, beside_history
from ..lookups.marking import waiting_count
from ..lookups.replicates import together
from ..lookups.runs import unfinished_runs, unsigned_runs, visible_runs
from ..lookups.standardizations import (
    Summary,
    approved_outside,
    summary_of,
    summary_shown,
    visible_standardizations,
    waiting_for_decision,
)
from ..lookups.unlocking import show_results
from ..models import Decision, Run, Standardization
from ..parts import page
from ..plots.replicates import replicates
from ..problems import with_putting_forward
from ..requests import SignedIn
from ..typesetting.budgets import budgets_shown
from .history_figures import beside_figure
from .noted import locked_firings, notes_noted, unanswered


def standardization(request: SignedIn, pk: int) -> HttpResponse:
    found = get_object_or_404(visible_standardizations(request.user), pk=pk)
    return page(request, "standardizations/detail.html", _context(request, found))


def _context(request: SignedIn, found: Standardization) -> dict[str, Any]:
    account, counted = request.user, summary_of(found)
    summary = summary_shown(counted, account)
    decides = may(account, "decide standardization", found)
    return {
        "standardization": found,
        "summary": summary,
        "figure": _figure(summary),
        "spread_percent": _spread_percent(summary),
        **_together(found, summary),
        "noted": notes_noted(run for run in summary.runs if run.state != Run.State.SET_ASIDE),
        "decisions": found.decisions.select_related("by"),
        "dependent_runs": visible_runs(account).filter(rests_on=found),
        "may_put_forward": may(account, "put standardization forward", found) and found.is_editable,
        "may_take_back": may(account, "put standardization forward", found)
        and found.state == Standardization.State.PUT_FORWARD,
        "may_decide": decides and found.state == Standardization.State.PUT_FORWARD,
        "may_withdraw": decides and found.state == Standardization.State.APPROVED,
        "may_close": decides and found.is_editable,
        "against": with_putting_forward(found, counted, account) if found.is_editable else [],
        **_past(request, found, summary),
    }


def _past(request: SignedIn, found: Standardization, summary: Summary) -> dict[str, Any]:
    """What staff see of the bench's history here: the band while deciding, and what is left out."""
    account = request.user
    beside = _beside(found, summary) if may(account, "decide standardization", found) else None
    is_value = found.approval is not None and found.state != Standardization.State.WITHDRAWN
    return {
        "beside": beside,
        "beside_figure": beside_figure(beside, timezone.now()) if beside else None,
        "beside_table": f"{reverse('bench', args=[found.bench.code])}#history-caption",
        "exclusion": found.exclusions.filter(ended_at__isnull=True).select_related("by").first()
        if may(account, "see benches")
        else None,
        "may_leave_out": is_value and may(account, "change bench"),
    }


def _figure(summary: Summary) -> Any:
    if summary.replicates is None:
        return None
    runs = [(f"run {run.replicate}", value) for run, value in summary.counted]
    return replicates(runs, summary.replicates.lower, summary.replicates.upper)


def _beside(found: Standardization, summary: Summary) -> Beside | None:
    """The mean on the table beside the bench’s past, while there is a decision to take."""
    if found.state != Standardization.State.PUT_FORWARD or summary.replicates is None:
        return None
    return beside_history(found.bench, summary.replicates.mean, summary.n)


def _together(found: Standardization, summary: Summary) -> dict[str, Any]:
    said = together(found, summary)
    budgets = {} if said.budget is None else {"heat_capacity": said.budget.as_dict()}
    return {
        "replicate_notes": said.notes,
        "disagreement": said.disagreement,
        "budgets": budgets_shown(budgets),
    }


def _spread_percent(summary: Summary) -> float | None:
    found = summary.replicates
    return None if found is None or found.s is None else 100 * found.s / found.mean


DEEDS: dict[str, tuple[Callable[..., Standardization], str]] = {
    "put-forward": (actions.put_forward, "Put forward. A TA will decide."),
    "take-back": (actions.take_back, "Taken back. Put it forward again when it is right."),
    "approve": (actions.approve, "Approved. Unknowns may now be opened on this bench."),
    "send-back": (actions.send_back, "Sent back to the group, with your reason."),
    "withdraw": (actions.withdraw, "Withdrawn. Runs that rest on it are marked."),
    "close": (actions.close_unfinished, "Closed. The group can start a new set."),
}
NEEDS_REASON = ("send-back", "withdraw", "close")


@require_POST
def decide(request: SignedIn, pk: int, deed: str) -> HttpResponse:
    found = get_object_or_404(visible_standardizations(request.user), pk=pk)
    if deed not in DEEDS:
        raise Http404
    action, done = DEEDS[deed]
    sent = request.POST
    if deed == "approve":
        actions.approve(
            found, by=request.user, seen=sent.get("seen", ""), reason=sent.get("reason", "")
        )
    elif deed in NEEDS_REASON:
        action(found, sent.get("reason", ""), by=request.user)
    else:
        action(found, by=request.user)
    messages.success(request, done)
    return redirect("standardization", found.pk)


def review_desk(request: SignedIn) -> HttpResponse:
    """What waits for a TA: standardizations put forward, sheets to sign, unfinished runs."""
    require(request.user, "see review desk")
    unsigned = unsigned_runs(request.user)
    unfinished = show_results(request.user, unfinished_runs(request.user))
    waiting = [(found, summary_of(found)) for found in waiting_for_decision(request.user)]
    context = {
        "waiting": waiting,
        "unsigned": unsigned,
        "unfinished": unfinished,
        "locked": locked_firings(unfinished),
        "unanswered": unanswered([*unfinished, *unsigned]),
        "handovers": handovers_of(request.user),
        "to_mark": waiting_count(request.user),
        "outside": [(found, _why_approved(found)) for found in approved_outside(request.user)],
    }
    return page(request, "review/desk.html", context)


def _why_approved(found: Standardization) -> Decision | None:
    """The decision that approved it, with its reason; decisions are fetched already."""
    approvals = [d for d in found.decisions.all() if d.deed == Decision.Deed.APPROVED]
    return approvals[-1] if approvals else None

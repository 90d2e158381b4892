"""Putting a standardization forward, and deciding on it."""

from __future__ import annotations

from datetime import timedelta

from django.db import transaction
from django.utils import timezone

from .. import clock
from ..access import require
from ..lookups.beside import Beside, beside_history
from ..lookups.practice import is_of_practice
from ..lookups.replicates import common_u_of
from ..lookups.standardizations import Summary, summary_of
from ..models import Account, Decision, PhaseBreak, Result, Standardization, StandardLot
from ..problems import refuse, refuse_if_blocked, with_putting_forward
from .decisions import hold, move_to
from .history import propose_break
from .telling import telling_of_change

Deed, State = Decision.Deed, Standardization.State


@transaction.atomic
def put_forward(standardization: Standardization, *, by: Account) -> Standardization:
    """Ask a TA to decide; until then the runs cannot change."""
    require(by, "put standardization forward", standardization)
    standardization = hold(standardization)
    if not standardization.is_editable:
        raise refuse("state", f"This standardization is {standardization.state} already.")
    refuse_if_blocked(with_putting_forward(standardization, summary_of(standardization), by))
    standardization.put_forward_at = clock.now()
    move_to(standardization, State.PUT_FORWARD, Deed.PUT_FORWARD, by=by)
    return standardization


@transaction.atomic
def take_back(standardization: Standardization, *, by: Account) -> Standardization:
    """The group takes it back to correct a run."""
    require(by, "put standardization forward", standardization)
    standardization = hold(standardization)
    _require_put_forward(standardization)
    standardization.put_forward_at = None
    move_to(standardization, State.GATHERING, Deed.TAKEN_BACK, by=by)
    return standardization


@transaction.atomic
def approve(
    standardization: Standardization, *, by: Account, seen: str, reason: str = ""
) -> Standardization:
    """Approve what was seen: the mean is frozen and unknowns on the bench may use it.

    ``seen`` is the ``Summary.seen`` of the page decided on; when the runs are no longer the
    same, nothing is approved.
    """
    require(by, "decide standardization", standardization)
    standardization = hold(standardization)
    _require_put_forward(standardization)
    summary = summary_of(standardization)
    _require_unchanged(summary, seen)
    refuse_if_blocked(with_putting_forward(standardization, summary, by))
    _refuse_old_configuration(standardization)
    assert summary.replicates is not None
    beside = beside_history(standardization.bench, summary.replicates.mean, summary.n)
    _require_reason_outside(beside, reason)
    _require_reason_for_spread(standardization, summary, reason)
    with telling_of_change():
        _propose_break_of_basis(standardization, by)
        _freeze(standardization, summary, beside, by)
        move_to(standardization, State.APPROVED, Deed.APPROVED, by=by, reason=reason)
    counted = Result.objects.filter(pk__in=[run.result_id for run, _ in summary.counted])
    standardization.approved_results.set(counted)
    return standardization


def _require_put_forward(standardization: Standardization) -> None:
    if standardization.state == State.PUT_FORWARD:
        return
    last = standardization.decisions.last()
    by_whom = f" by {last.by} at {timezone.localtime(last.at):%H:%M}" if last else ""
    sentence = (
        f"This standardization is {standardization.state} now{by_whom}; "
        "nothing was changed by your decision."
    )
    raise refuse("decided", sentence)


def _require_unchanged(summary: Summary, seen: str) -> None:
    if seen != summary.seen:
        sentence = (
            "The runs changed after you opened this page, so nothing was approved. "
            "Look at the figures as they are now, then decide."
        )
        raise refuse("changed", sentence)


def _refuse_old_configuration(standardization: Standardization) -> None:
    newest = standardization.bench.configuration
    if newest is not None and newest.pk != standardization.configuration_id:
        sentence = (
            f"{standardization.bench} was changed on {timezone.localtime(newest.since):%-d %B %Y} "
            f"(“{newest.reason}”) after these runs were opened: standardize again."
        )
        raise refuse("configuration", sentence)


def _require_reason_outside(beside: Beside, reason: str) -> None:
    if beside.is_outside and not reason.strip():
        sentence = " ".join(beside.reasons)
        ask = "Approving it all the same needs a reason; the coordinator will see it."
        raise refuse("outside", f"{sentence} {ask}", "reason")


def _require_reason_for_spread(
    standardization: Standardization, summary: Summary, reason: str
) -> None:
    found = summary.replicates
    assert found is not None
    acceptable = standardization.method.acceptable_spread_percent
    percent = 100 * (found.s or 0) / found.mean
    if percent > acceptable and not reason.strip():
        sentence = (
            f"The runs scatter by {percent:.2f} % (standard deviation); the course accepts "
            f"{acceptable} %. Approving it all the same needs a reason."
        )
        raise refuse("spread", sentence, "reason")


def _propose_break_of_basis(standardization: Standardization, by: Account) -> None:
    """Values from certificates on different bases of mass are not compared unasked."""
    if is_of_practice(standardization):
        return
    before = (
        standardization.bench.standardizations.filter(
            approved_at__isnull=False, group__section__term__is_practice=False
        )
        .exclude(pk=standardization.pk)
        .order_by("-approved_at")
        .first()
    )
    old, new = (_bases(s) if s else set() for s in (before, standardization))
    if old and new and old != new:
        words = f"certificate by {' and '.join(sorted(new))} instead of {' and '.join(sorted(old))}"
        propose_break(standardization.bench, clock.now(), PhaseBreak.Cause.LOT, words, by=by)


def _bases(standardization: Standardization) -> set[str]:
    lots = StandardLot.objects.filter(run__standardization=standardization).distinct()
    return {lot.get_basis_display() for lot in lots}


def _freeze(
    standardization: Standardization, summary: Summary, beside: Beside, by: Account
) -> None:
    replicates = summary.replicates
    assert replicates is not None
    now = clock.now()
    standardization.standing_then, standardization.was_outside = beside.standing, beside.is_outside
    standardization.approved_at, standardization.approved_by = now, by
    standardization.approved_c_j_per_k = replicates.mean
    standardization.approved_s_j_per_k = replicates.s
    standardization.approved_half_width_j_per_k = replicates.half_width
    standardization.approved_n = replicates.n
    standardization.approved_common_u_j_per_k = common_u_of(summary)
    lasts = timedelta(days=standardization.method.approval_lasts_days)
    standardization.lapses_on = timezone.localdate(now) + lasts


@transaction.atomic
def send_back(standardization: Standardization, reason: str, *, by: Account) -> Standardization:
    """Return it to the group, with the reason."""
    require(by, "decide standardization", standardization)
    standardization = hold(standardization)
    _require_put_forward(standardization)
    if not reason.strip():
        raise refuse("reason", "Say what the group should look at before trying again.", "reason")
    move_to(standardization, State.SENT_BACK, Deed.SENT_BACK, by=by, reason=reason)
    return standardization


@transaction.atomic
def withdraw(standardization: Standardization, reason: str, *, by: Account) -> Standardization:
    """End an approval. Runs that rest on it are marked wherever they show; no number changes."""
    require(by, "decide standardization", standardization)
    standardization = hold(standardization)
    if standardization.state != State.APPROVED:
        sentence = (
            f"This standardization is {standardization.state}; only an approval is withdrawn."
        )
        raise refuse("state", sentence)
    if not reason.strip():
        raise refuse("reason", "Withdrawing an approval needs its reason.", "reason")
    with telling_of_change():
        move_to(standardization, State.WITHDRAWN, Deed.WITHDRAWN, by=by, reason=reason)
    return standardization


@transaction.atomic
def close_unfinished(
    standardization: Standardization, reason: str, *, by: Account
) -> Standardization:
    """Let an unfinished set lapse, so that the group can start a new one."""
    require(by, "decide standardization", standardization)
    standardization = hold(standardization)
    if standardization.state not in (*Standardization.EDITABLE, State.PUT_FORWARD):
        raise refuse("state", f"This standardization is {standardization.state} already.")
    if not reason.strip():
        raise refuse("reason", "Say why this standardization is closed.", "reason")
    move_to(standardization, State.LAPSED, Deed.LAPSED, by=by, reason=reason)
    return standardization

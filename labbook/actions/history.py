"""Cutting a bench's history, leaving points out of it, freezing its limits."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from .. import clock
from ..access import require
from ..lookups.history import history_of
from ..lookups.judging import RULES
from ..models import (
    Account,
    Bench,
    BenchConfiguration,
    Decision,
    Exclusion,
    FrozenLimits,
    PhaseBreak,
    Standardization,
)
from ..problems import refuse
from .benches import hold_bench
from .decisions import move_to
from .telling import telling_of_change

Cause, State = PhaseBreak.Cause, PhaseBreak.State


def lapse_approvals(bench: Bench, reason: str, *, by: Account) -> None:
    """End whatever approval is in force: the bench is not what it was."""
    approved = Standardization.State.APPROVED
    for standardization in bench.standardizations.filter(state=approved):
        lapsed = Standardization.State.LAPSED
        move_to(standardization, lapsed, Decision.Deed.LAPSED, by=by, reason=reason)


def propose_break(
    bench: Bench,
    at: datetime,
    cause: str,
    words: str,
    *,
    by: Account,
    configuration: BenchConfiguration | None = None,
) -> PhaseBreak:
    """Cut the history here until a coordinator has confirmed the cut or merged the phases."""
    return PhaseBreak.objects.create(
        bench=bench,
        at=at,
        cause=cause,
        words=words.strip().rstrip(".")[:300],
        configuration=configuration,
        made_by=by,
    )


@transaction.atomic
def decide_break(cut: PhaseBreak, state: str, reason: str, *, by: Account) -> PhaseBreak:
    """Confirm a proposed break, or merge the phases on both sides of it."""
    require(by, "change bench")
    hold_bench(cut.bench)
    cut = PhaseBreak.objects.get(pk=cut.pk)
    if state not in (State.CONFIRMED, State.MERGED):
        raise refuse("state", "A break is confirmed, or its phases are merged.")
    if cut.state != State.PROPOSED:
        raise refuse("decided", f"This break was {cut.state} by {cut.decided_by} already.")
    if state == State.MERGED and not reason.strip():
        raise refuse("reason", "Say why the phases may be compared in spite of it.", "reason")
    cut.state, cut.reason = state, reason.strip()[:400]
    cut.decided_by, cut.decided_at = by, clock.now()
    with telling_of_change():
        cut.save()
    return cut


@transaction.atomic
def exclude_point(standardization: Standardization, cause: str, *, by: Account) -> Exclusion:
    """Leave an approved value out of all statistics, for a cause that was proved."""
    require(by, "change bench")
    hold_bench(standardization.bench)
    if standardization.approval is None:
        raise refuse("state", "Only a value that was approved can be left out.")
    if not cause.strip():
        raise refuse("cause", "Say which cause was proved. Being far off is not a cause.", "cause")
    if standardization.exclusions.filter(ended_at__isnull=True).exists():
        raise refuse("excluded", "This value is left out already.")
    with telling_of_change():
        return Exclusion.objects.create(
            standardization=standardization, cause=cause.strip()[:400], at=clock.now(), by=by
        )


@transaction.atomic
def take_point_in(exclusion: Exclusion, reason: str, *, by: Account) -> Exclusion:
    """Let a value that was left out count again."""
    require(by, "change bench")
    hold_bench(exclusion.standardization.bench)
    exclusion.refresh_from_db()
    if exclusion.ended_at is not None:
        raise refuse("ended", f"{exclusion.ended_by} took this value in again already.")
    if not reason.strip():
        raise refuse("reason", "Say why the value counts again.", "reason")
    exclusion.ended_at, exclusion.ended_by = clock.now(), by
    exclusion.ended_for = reason.strip()[:400]
    with telling_of_change():
        exclusion.save(update_fields=Exclusion.LATER)
    return exclusion


@transaction.atomic
def freeze_limits(bench: Bench, reason: str, *, by: Account) -> FrozenLimits:
    """Hold the bench's later values to the baseline as it is now. Earlier limits stay on record."""
    require(by, "change bench")
    bench = hold_bench(bench)
    if not reason.strip():
        raise refuse("reason", "Freezing limits needs its reason.", "reason")
    phase = history_of(bench, by)[0].now
    if phase.begins is not None and phase.begins.state == State.PROPOSED:
        sentence = "Where this phase begins is only proposed: confirm the break or merge it first."
        raise refuse("proposed", sentence)
    baseline = phase.judgement.baseline if phase.judgement else None
    if baseline is None or baseline.n < RULES.fewest:
        sentence = (
            f"This phase has {len(phase.counted)} values that count; at least {RULES.fewest} are "
            "needed before limits can be frozen."
        )
        raise refuse("too few points", sentence)
    lower, upper = baseline.limits(RULES)
    return FrozenLimits.objects.create(
        bench=bench, begins=phase.begins, first_index=len(phase.points), n=baseline.n,
        mean_j_per_k=baseline.mean, sd_j_per_k=baseline.sd, degrees=baseline.degrees,
        lower_j_per_k=lower, upper_j_per_k=upper, at=clock.now(), by=by,
        reason=reason.strip()[:400],
    )  # fmt: skip

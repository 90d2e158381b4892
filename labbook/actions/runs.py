"""A run from opening to signature, or set aside with its cause."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from .. import clock
from ..access import require
from ..lookups.practice import is_of_practice
from ..lookups.readings import readings_of
from ..lookups.sheets import Sheet
from ..lookups.standardizations import approval_in_force
from ..models import (
    Account,
    Bench,
    BenchConfiguration,
    Decision,
    Group,
    Person,
    Run,
    Sample,
    Standardization,
)
from ..problems import (
    LOCK_FIELDS,
    refuse,
    refuse_if_blocked,
    with_changing,
    with_completing,
    with_firing,
    with_opening,
    with_opening_unknown,
)
from ..problems.samples import with_vial
from .benches import hold_bench
from .decisions import hold, move_to, record_decision
from .devices import listen_if_heard
from .readings import fold_blocks
from .reductions import reduce_and_keep, reduce_if_readings_stand
from .sheets import enter_figure

Deed, State = Decision.Deed, Run.State


@transaction.atomic
def open_standardization_run(bench: Bench, *, by: Account) -> Run:
    """Open the next run of the group's standardization; the first one opens the set too."""
    group = _own_group(by)
    bench = hold_bench(bench)
    refuse_if_blocked(with_opening(bench, group))
    configuration = _configuration_of(bench)
    unfinished = group.standardizations.filter(
        bench=bench, state__in=[*Standardization.EDITABLE, Standardization.State.PUT_FORWARD]
    ).first()
    if unfinished is not None and not unfinished.is_editable:
        sentence = "Your standardization is put forward. Take it back before adding a run."
        raise refuse("put forward", sentence)
    if unfinished is not None and unfinished.configuration_id != configuration.pk:
        sentence = (
            f"{bench} was changed on {timezone.localtime(configuration.since):%-d %B}: "
            f"“{configuration.reason}”. "
            "Runs from before and after cannot be averaged; ask your TA to close the earlier set."
        )
        raise refuse("configuration", sentence)
    method = group.section.term.method
    if unfinished is None:
        unfinished = Standardization.objects.create(
            bench=bench, configuration=configuration, group=group, method=method,
            opened_at=clock.now(),
        )  # fmt: skip
    return _open(
        group, bench, Run.Kind.STANDARDIZATION, by, method=method, standardization=unfinished
    )


@transaction.atomic
def open_unknown_run(bench: Bench, sample: Sample, *, by: Account) -> Run:
    """Open an unknown. Refused without an approved standardization in force on the bench."""
    group = _own_group(by)
    bench = hold_bench(bench)
    refuse_if_blocked([*with_opening_unknown(bench, group), *with_vial(sample, group)])
    return _open(
        group, bench, Run.Kind.UNKNOWN, by,
        method=group.section.term.method, sample=sample,
        rests_on=approval_in_force(bench, of_practice=is_of_practice(group)),
    )  # fmt: skip


@transaction.atomic
def open_other_run(bench: Bench, kind: str, *, by: Account) -> Run:
    """Open a practice run or a blank; neither counts towards a standardization."""
    group = _own_group(by)
    if kind not in (Run.Kind.PRACTICE, Run.Kind.BLANK):
        raise refuse("kind", f"“{kind}” is not a practice run or a blank.")
    bench = hold_bench(bench)
    refuse_if_blocked(with_opening(bench, group))
    return _open(group, bench, kind, by, method=group.section.term.method)


def _configuration_of(bench: Bench) -> BenchConfiguration:
    configuration = bench.configuration
    assert configuration is not None, "openings are refused without one"
    return configuration


def _own_group(by: Account) -> Group:
    require(by, "open run", by.group)
    assert by.group is not None
    return by.group


def _open(group: Group, bench: Bench, kind: str, by: Account, **rest: Any) -> Run:
    earlier = group.runs.filter(kind=kind)
    for narrowing in ("standardization", "sample"):
        if narrowing in rest:
            earlier = earlier.filter(**{narrowing: rest[narrowing]})
    run = Run.objects.create(
        group=group,
        bench=bench,
        configuration=_configuration_of(bench),
        kind=kind,
        replicate=(earlier.aggregate(most=Max("replicate"))["most"] or 0) + 1,
        opened_at=clock.now(),
        **rest,
    )
    record_decision(run, Deed.OPENED, by=by, new=State.OPEN)
    _carry_over(run, group)
    listen_if_heard(run)
    return run


def _carry_over(run: Run, group: Group) -> None:
    """Who is present carries over from the group's last run of the same day."""
    day = timezone.localdate(run.opened_at)
    last = group.runs.exclude(pk=run.pk).filter(opened_at__date=day).first()
    if last is not None:
        run.present.set(last.present.all())


@transaction.atomic
def mark_fired(run: Run, moment: str = "", *, by: Account, entered_by: Person | None = None) -> Run:
    """Mark the firing. Refused while anything stands against it, limits and leaks first."""
    require(by, "fill in sheet", run)
    run = hold(run)
    if run.state != State.OPEN:
        raise refuse("fired", f"{run} is {run.state}; the firing was marked before.")
    if moment.strip():
        enter_figure(run, "fired_at_s", moment, by=by, entered_by=entered_by)
    refuse_if_blocked(with_firing(run, Sheet(run)))
    run.fired_at = clock.now()
    move_to(run, State.FIRED, Deed.FIRED, by=by)
    reduce_if_readings_stand(run, by=by, reason="firing marked")
    return run


@transaction.atomic
def unlock_limit(run: Run, lock: str, reason: str, *, by: Account) -> Decision:
    """Let a firing pass one limit, for the figures as they stand now."""
    require(by, "unlock limit", run)
    run = hold(run)
    if lock not in LOCK_FIELDS:
        raise refuse("lock", f"“{lock}” is not a limit of this sheet.")
    if run.state != State.OPEN:
        raise refuse("fired", f"{run} is {run.state}; there is nothing left to unlock.")
    if not reason.strip():
        raise refuse("reason", "Unlocking a limit needs its reason.", "reason")
    return record_decision(run, Deed.UNLOCKED, by=by, new=lock, reason=reason)


@transaction.atomic
def complete_run(run: Run, *, by: Account) -> Run:
    """Say the data are complete: fold the readings, compute the result, keep both."""
    require(by, "fill in sheet", run)
    run = hold(run)
    if run.state not in (State.OPEN, State.FIRED):
        raise refuse("finished", f"{run} is {run.state} already.")
    readings = readings_of(run)
    refuse_if_blocked(with_completing(run, Sheet(run), readings))
    refuse_if_blocked(with_changing(run, "", needs_reason=False))
    fold_blocks(run)
    run.completed_at = clock.now()
    move_to(run, State.COMPLETE, Deed.COMPLETED, by=by)
    reduce_and_keep(run, readings, by=by, reason="run completed")
    return run


@transaction.atomic
def set_run_aside(run: Run, cause: str, remark: str, *, by: Account) -> Run:
    """Leave a run out of the mean, with its cause. It stays on every list and in the firings."""
    require(by, "set run aside", run)
    run = hold(run)
    if cause not in Run.Cause.values:
        raise refuse("cause", "Choose why the run is set aside.", "cause")
    if run.state == State.SET_ASIDE:
        raise refuse("set aside", f"{run} was set aside already, for {run.get_cause_display()}.")
    if cause == Run.Cause.OTHER and not remark.strip():
        raise refuse("remark", "“Other” needs a remark that says what happened.", "remark")
    _refuse_if_approved(run)
    run.cause = cause
    move_to(run, State.SET_ASIDE, Deed.SET_ASIDE, by=by, reason=remark)
    return run


@transaction.atomic
def take_run_up(run: Run, reason: str, *, by: Account) -> Run:
    """Undo a setting-aside or a signature: the run can be corrected and counts again."""
    require(by, "set run aside", run)
    run = hold(run)
    if run.state not in (State.SET_ASIDE, State.SIGNED):
        raise refuse("state", f"{run} is {run.state}; only a signed or set-aside run is taken up.")
    if not reason.strip():
        raise refuse("reason", "Say why the run is taken up again.", "reason")
    _refuse_if_approved(run)
    run.cause, run.signed_at, run.signed_by = "", None, None
    state = State.COMPLETE if run.completed_at else State.FIRED if run.fired_at else State.OPEN
    move_to(run, state, Deed.TAKEN_UP, by=by, reason=reason)
    return run


def _refuse_if_approved(run: Run) -> None:
    standardization = run.standardization
    if standardization is not None and standardization.state == Standardization.State.APPROVED:
        sentence = (
            f"{run} is part of standardization {standardization.pk}, which is approved. "
            "Withdraw the approval first."
        )
        raise refuse("approved", sentence)


@transaction.atomic
def sign_run(run: Run, *, by: Account) -> Run:
    """Sign a completed sheet before the group leaves."""
    require(by, "sign run", run)
    run = hold(run)
    if run.state != State.COMPLETE:
        raise refuse("state", f"{run} is {run.state}; only a complete run can be signed.")
    run.signed_at, run.signed_by = clock.now(), by
    move_to(run, State.SIGNED, Deed.SIGNED, by=by)
    return run

"""Reducing finished runs again: planned, looked at, then applied. Old results stay."""

from __future__ import annotations

from typing import Any

from django.db import transaction

import reduction

from .. import clock
from ..access import require
from ..lookups.inputs import inputs_of
from ..lookups.outputs import compute
from ..lookups.readings import readings_of
from ..lookups.rereductions import pending, select_runs
from ..lookups.sheets import Sheet
from ..models import Account, Method, Rereduction, RereductionItem, Result, Run
from ..problems import refuse
from .decisions import hold
from .reductions import headline, is_of, keep_result

Outcome = tuple[dict[str, Any], str]


@transaction.atomic
def plan_rereduction(
    selection: dict[str, str], reason: str, *, by: Account, method: Method | None = None
) -> Rereduction:
    """Write down which runs would be reduced again. Nothing is computed or moved yet."""
    require(by, "rereduce")
    if not reason.strip():
        raise refuse("reason", "Say why these runs are reduced again.", "reason")
    runs = select_runs(selection)
    if not runs.exists():
        raise refuse("no runs", "No completed run matches this selection. Widen it.")
    plan = Rereduction.objects.create(
        made_at=clock.now(),
        made_by=by,
        reason=reason.strip()[:200],
        selection=selection,
        method=method,
        version=reduction.__version__,
    )
    RereductionItem.objects.bulk_create(
        RereductionItem(rereduction=plan, run=run, before_id=run.result_id) for run in runs
    )
    return plan


@transaction.atomic
def apply_rereduction(plan: Rereduction, *, by: Account) -> Rereduction:
    """Decide that the new results shall be kept; ``work_through`` then keeps them run by run."""
    require(by, "rereduce")
    plan = Rereduction.objects.select_for_update().get(pk=plan.pk)
    if plan.applied_at is not None:
        raise refuse("applied", f"Re-reduction {plan.pk} was applied by {plan.applied_by} already.")
    if plan.items.filter(outcome__isnull=True).exists():
        raise refuse("unfinished", "Some runs are not worked out yet. Look at all of it first.")
    plan.applied_at, plan.applied_by = clock.now(), by
    plan.save()
    return plan


def inputs_for(item: RereductionItem, plan: Rereduction) -> dict[str, Any]:
    """What the run is reduced from now: its sheet as it stands, with the plan's method if any."""
    run = item.run
    if plan.method is not None:
        run.method = plan.method
    return inputs_of(run, Sheet(run), readings_of(run))


@transaction.atomic
def settle(
    item: RereductionItem, plan: Rereduction, inputs: dict[str, Any], outcome: Outcome
) -> None:
    """Write down one run's outcome; once the plan is applied, keep it as the run's new result.

    What was computed while somebody changed the run is computed anew.
    """
    if plan.applied_at is not None:
        run = item.run = hold(item.run)
        present = inputs_for(item, plan)
        if present != inputs:
            inputs, outcome = present, compute(present)
        run.save(update_fields=["method"])
        item.after = _result_of(run, plan, inputs, outcome)
    outputs, failure = outcome
    item.outcome = {**headline(outputs), "failure": failure}
    item.save()


def _result_of(run: Run, plan: Rereduction, inputs: dict[str, Any], outcome: Outcome) -> Result:
    """The new result, or the present one where nothing it rests on has changed."""
    if run.result is not None and is_of(run.result, inputs):
        return run.result
    assert plan.applied_by is not None
    return keep_result(run, inputs, outcome, by=plan.applied_by, reason=f"{plan}: {plan.reason}")


def work_through(plan: Rereduction, most: int) -> int:
    """Do up to ``most`` of the runs that are still to do; returns how many were done.

    Each run is settled in a transaction of its own, so that an interruption leaves whole
    results only and the next call goes on where this one stopped.
    """
    items = list(pending(plan)[:most])
    for item in items:
        inputs = inputs_for(item, plan)
        settle(item, plan, inputs, compute(inputs))
    return len(items)

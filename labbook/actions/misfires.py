"""A charge that did not light, and the run that follows one that was set aside."""

from __future__ import annotations

from django.db import transaction

from ..access import require
from ..lookups.sheets import Sheet
from ..models import Account, Decision, Happening, Person, Run
from ..models.materials import LOTS
from ..problems import refuse
from ..sheet import LOT_FIELDS
from .around_firing import record_happening
from .decisions import hold, move_to
from .runs import open_other_run, open_standardization_run, open_unknown_run
from .sheets import enter_figure


@transaction.atomic
def report_misfire(run: Run, remark: str, *, by: Account, entered_by: Person | None = None) -> Run:
    """The group's own way out of a charge that did not light. It still counts as a firing."""
    require(by, "fill in sheet", run)
    run = hold(run)
    if run.state != Run.State.FIRED:
        raise refuse(
            "not fired", f"{run} is {run.state}; a misfire is a firing that did not light."
        )
    record_happening(run, Happening.Kind.NO_IGNITION, remark, by=by, entered_by=entered_by)
    run.cause = Run.Cause.MISFIRE
    move_to(
        run, Run.State.SET_ASIDE, Decision.Deed.SET_ASIDE, by=by, reason=remark or "did not light"
    )
    return run


@transaction.atomic
def open_again(run: Run, *, by: Account) -> Run:
    """Open the next run of the same kind after one was set aside, with its materials."""
    require(by, "open run", run)
    if run.state != Run.State.SET_ASIDE:
        raise refuse("state", f"{run} is {run.state}; only a run set aside is opened again.")
    if run.kind == Run.Kind.STANDARDIZATION:
        opened = open_standardization_run(run.bench, by=by)
    elif run.sample is not None:
        opened = open_unknown_run(run.bench, run.sample, by=by)
    else:
        opened = open_other_run(run.bench, run.kind, by=by)
    sheet = Sheet(run)
    for key in LOT_FIELDS:
        if _is_in_use(key, sheet.text(key)):
            enter_figure(opened, key, sheet.text(key), by=by)
    opened.refresh_from_db()
    return opened


def _is_in_use(key: str, code: str) -> bool:
    return LOTS[key]._default_manager.filter(code=code, in_use=True).exists()

"""What stands before a run's next step: on its sheet, beside its readings."""

from __future__ import annotations

from typing import Any

from ..access import may
from ..forms.notes import ShownNote, notes_by_field, still_open
from ..lookups.around_firing import checklist_of
from ..lookups.predictions import prediction_of
from ..lookups.readings import readings_of
from ..lookups.sheets import Sheet
from ..models import Decision, Run
from ..problems import LOCK_WORDS, Problem, with_completing, with_firing
from ..problems.locks import holds
from ..requests import SignedIn
from ..sheet import FIELDS
from .writers import ticker_of

UNSAID = ("missing", "unticked")


def problems_before(run: Run, sheet: Sheet) -> list[Problem]:
    """Everything against the next step of a run: firing it, or saying that it is complete."""
    if run.state == Run.State.OPEN:
        return with_firing(run, sheet)
    if run.state == Run.State.FIRED:
        return with_completing(run, sheet, readings_of(run))
    return []


def next_step_context(
    request: SignedIn,
    run: Run,
    sheet: Sheet,
    notes: dict[str, list[ShownNote]] | None = None,
    against: list[Problem] | None = None,
) -> dict[str, Any]:
    """What still stands against the run's next step, and what may be done about it."""
    against = problems_before(run, sheet) if against is None else against
    notes = notes_by_field(sheet, against) if notes is None else notes
    return {
        "missing": [(FIELDS[p.field].words, p.field) for p in against if p.code == "missing"],
        "unticked": sum(problem.code == "unticked" for problem in against),
        "against": [problem for problem in against if problem.code not in UNSAID],
        "is_locked": any(problem.lock for problem in against),
        "unanswered": still_open(notes),
        "notes_of_run": notes.get("", []),
        "may_answer": may_answer(request, run),
        "unlocks": _unlocks(run, sheet),
        "may_unlock": may(request.user, "unlock limit", run),
        "may_open_again": may(request.user, "open run", run),
        **(_before_firing(request, run, sheet) if run.state == Run.State.OPEN else {}),
    }


def may_answer(request: SignedIn, run: Run) -> bool:
    return run.state != Run.State.SIGNED and may(request.user, "fill in sheet", run)


def _before_firing(request: SignedIn, run: Run, sheet: Sheet) -> dict[str, Any]:
    return {
        "prediction": prediction_of(run, sheet),
        "checklist": checklist_of(run, sheet),
        "people_present": run.present.all(),
        "ticker": ticker_of(request, run),
    }


def _unlocks(run: Run, sheet: Sheet) -> list[dict[str, Any]]:
    """Every limit a TA unlocked, with the reason; one ends when its figures change."""
    found = run.decisions.filter(deed=Decision.Deed.UNLOCKED).select_related("by")
    return [
        {"words": LOCK_WORDS[unlock.new], "decision": unlock, "holds": holds(unlock, sheet)}
        for unlock in found
    ]

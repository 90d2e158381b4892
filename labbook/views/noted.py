"""What the sheets of many runs say: for the review desk, a standardization, a result."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from ..forms.notes import ShownNote, notes_shown
from ..lookups.around_firing import happenings_of, with_happenings
from ..lookups.sheets import sheets_of
from ..models import Happening, Run
from ..problems import Problem, limits_exceeded


def locked_firings(runs: Iterable[Run]) -> list[tuple[Run, list[Problem]]]:
    """Open runs whose firing a limit locks: each waits for a TA."""
    waiting = [run for run in runs if run.state == Run.State.OPEN]
    found = [(sheet.run, limits_exceeded(sheet.run, sheet)) for sheet in sheets_of(waiting)]
    return [(run, limits) for run, limits in found if limits]


def notes_noted(runs: Iterable[Run]) -> list[tuple[Run, list[ShownNote]]]:
    """The runs that have something to say: notes on the sheet, or what happened."""
    found = notes_shown(sheets_of(with_happenings(runs)))
    return [(run, notes) for run, notes in found if notes or run.happenings.all()]


def unanswered(runs: Iterable[Run]) -> list[tuple[Run, list[ShownNote]]]:
    found = [(run, [note for note in notes if note.is_open]) for run, notes in notes_noted(runs)]
    return [(run, notes) for run, notes in found if notes]


def happenings_context(run: Run) -> dict[str, Any]:
    return {"happenings": happenings_of(run), "happening_kinds": Happening.Kind.choices}

"""Notes as a page shows them: at the field they are about, with their answers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.urls import reverse
from django.utils.text import capfirst

from ..lookups.around_firing import Answers, answers_to
from ..lookups.predictions import UsualCapacities
from ..lookups.same_masses import SectionsMasses
from ..lookups.sheets import Sheet
from ..models import NoteAnswer, Run
from ..problems import Problem, notes_on_sheet
from ..sheet import FIELDS


@dataclass(frozen=True)
class ShownNote:
    """A problem with what was answered to it, or the answers it asks for."""

    problem: Problem
    answer: NoteAnswer | None = None
    url: str = ""

    @property
    def field(self) -> str:
        return self.problem.field

    @property
    def about(self) -> str:
        """The words of its field."""
        return FIELDS[self.field].words if self.field else "This run"

    @property
    def is_open(self) -> bool:
        return bool(self.problem.answers) and self.answer is None

    @property
    def choices(self) -> list[tuple[str, str]]:
        words = dict(NoteAnswer.Answer.choices)
        return [(value, capfirst(words[value])) for value in self.problem.answers]


def notes_shown(sheets: list[Sheet]) -> list[tuple[Run, list[ShownNote]]]:
    """Every note of these runs, each with the answer that was given to its very sentence."""
    answers = answers_to(sheet.run for sheet in sheets)
    masses: dict[int, SectionsMasses] = {}
    capacities = UsualCapacities(sheet.run.bench for sheet in sheets)
    found = []
    for sheet in sheets:
        run, section = sheet.run, sheet.run.group.section_id
        masses.setdefault(section, SectionsMasses(section))
        notes = notes_on_sheet(run, sheet, masses[section], capacities)
        found.append((run, [_shown(run, note, answers[run.pk]) for note in notes]))
    return found


def _shown(run: Run, note: Problem, answers: Answers) -> ShownNote:
    url = reverse("answer_note", args=[run.pk, note.code])
    return ShownNote(note, answers.get((note.code, note.sentence)), url)


def notes_by_field(sheet: Sheet, against: list[Problem]) -> dict[str, list[ShownNote]]:
    """What each field gives reason to say: what stands against it first, then what it asks."""
    blocking = [ShownNote(p) for p in against if p.field in FIELDS and p.code != "missing"]
    [(_, asked)] = notes_shown([sheet])
    found: dict[str, list[ShownNote]] = {}
    for note in [*blocking, *asked]:
        found.setdefault(note.field, []).append(note)
    return found


def still_open(notes: dict[str, list[ShownNote]]) -> list[ShownNote]:
    return [note for shown in notes.values() for note in shown if note.is_open]


def changed(
    before: dict[str, list[ShownNote]], after: dict[str, list[ShownNote]]
) -> list[tuple[str, Any]]:
    """The fields whose notes read differently now, with their notes; one may have none left."""
    fields = dict.fromkeys([*before, *after])
    return [
        (field, after.get(field, []))
        for field in fields
        if field and before.get(field) != after.get(field)
    ]

"""What people said around a firing: the ticked checklist, answers to notes, what happened."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Prefetch, Q, prefetch_related_objects

from ..models import FiringCheck, Happening, NoteAnswer, Run
from .sheets import Sheet

# An answer to one of these holds in every run of the group: the same lot, the same question.
ASKED_ONCE_A_GROUP = ("certificate_basis",)
LONGEST_ITEM = 200


@dataclass(frozen=True)
class ChecklistItem:
    """An item before firing; ``tick`` is the one that holds, ``lapsed`` one that did."""

    number: int
    words: str
    tick: FiringCheck | None = None
    lapsed: FiringCheck | None = None


def checklist_words(run: Run) -> list[str]:
    """The items of the run's method, each once. None means that the course asks for no list."""
    lines = (line.strip()[:LONGEST_ITEM] for line in run.method.firing_checklist.splitlines())
    return list(dict.fromkeys(line for line in lines if line))


def checklist_of(run: Run, sheet: Sheet) -> list[ChecklistItem]:
    words = checklist_words(run)
    if not words:
        return []
    newest = {check.item: check for check in run.checks.select_related("person")}
    opened = _vessel_opened_at(run, sheet)
    return [_item(number, item, newest.get(item), opened) for number, item in enumerate(words)]


def _item(
    number: int, words: str, check: FiringCheck | None, opened: datetime | None
) -> ChecklistItem:
    if check is None or not check.is_done:
        return ChecklistItem(number, words)
    if opened is not None and check.at <= opened:
        return ChecklistItem(number, words, lapsed=check)
    return ChecklistItem(number, words, tick=check)


def _vessel_opened_at(run: Run, sheet: Sheet) -> datetime | None:
    """When a leak was last seen: the vessel is opened then, and what was checked holds no more."""
    seen = [entry.at for entry in sheet.all_of("leak_check") if entry.text == "leak"]
    noted = run.happenings.filter(kind=Happening.Kind.LEAK).last()
    return max(seen + ([noted.at] if noted else []), default=None)


def leak_awaiting_check(run: Run, sheet: Sheet) -> Happening | None:
    """A leak noted under what happened after the leak check on the sheet."""
    leaks = [one for one in run.happenings.all() if one.kind == Happening.Kind.LEAK]
    checked = sheet.current.get("leak_check")
    if not leaks or (checked is not None and checked.at > leaks[-1].at):
        return None
    return leaks[-1]


Answers = dict[tuple[str, str], NoteAnswer]


def answers_to(runs: Iterable[Run]) -> dict[int, Answers]:
    """Of each run the newest answer to a note, by its code and the sentence it was given to."""
    runs = list(runs)
    found = NoteAnswer.objects.filter(
        Q(run__in=runs)
        | Q(run__group__in={run.group_id for run in runs}, code__in=ASKED_ONCE_A_GROUP)
    ).select_related("run", "by", "entered_by")
    answers: dict[int, Answers] = {run.pk: {} for run in runs}
    for answer in found:
        for run in runs:
            is_groups = answer.code in ASKED_ONCE_A_GROUP and answer.run.group_id == run.group_id
            if answer.run_id == run.pk or is_groups:
                answers[run.pk][answer.code, answer.sentence] = answer
    return answers


def left_out(run: Run) -> set[str]:
    """The fields whose figure the group decided to leave out and say so."""
    newest = {answer.field: answer.answer for answer in run.answers.all() if answer.field}
    return {field for field, answer in newest.items() if answer == NoteAnswer.Answer.LEAVE_OUT}


def with_happenings(runs: Iterable[Run]) -> list[Run]:
    """The runs with what happened in them, and what their notes need beside the sheets."""
    runs = list(runs)
    people = Happening.objects.select_related("by", "entered_by")
    prefetch_related_objects(runs, Prefetch("happenings", people), *BESIDE_NOTES)
    return runs


BESIDE_NOTES = (
    "group__bench", "bench", "configuration", "method", "sample",
    "standard_lot__substance", "fuse_lot", "titrant_lot", "aid_lot", "second_aid_lot",
)  # fmt: skip


def happenings_of(run: Run) -> list[Happening]:
    return list(run.happenings.select_related("by", "entered_by"))

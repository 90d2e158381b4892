"""What people say around a firing: the checklist ticked, notes answered, what happened."""

from __future__ import annotations

from django.db import transaction

from .. import clock
from ..access import require
from ..lookups.around_firing import checklist_words
from ..lookups.sheets import Sheet
from ..models import Account, FiringCheck, Happening, NoteAnswer, Person, Run
from ..problems import check_length, notes_on_sheet, refuse, refuse_if_blocked
from ..problems.samples import with_words
from .decisions import hold
from .sheets import check_present

LONGEST_WORDS = 400
State = Run.State


@transaction.atomic
def tick_item(run: Run, number: int, person: Person, *, by: Account) -> FiringCheck:
    """A person who is present vouches for an item of the checklist before firing."""
    return _check(run, number, person, is_done=True, by=by)


@transaction.atomic
def untick_item(run: Run, number: int, person: Person, *, by: Account) -> FiringCheck:
    """Take a tick back. The tick stays on record, and so does who took it back."""
    return _check(run, number, person, is_done=False, by=by)


def _check(run: Run, number: int, person: Person, *, is_done: bool, by: Account) -> FiringCheck:
    require(by, "fill in sheet", run)
    run = hold(run)
    if run.state != State.OPEN:
        raise refuse("fired", f"{run} is {run.state}; its checklist stays as it is.")
    check_present(run, person)
    items = checklist_words(run)
    if not 0 <= number < len(items):
        raise refuse("checklist", f"The checklist of this run has no item {number + 1}.")
    return FiringCheck.objects.create(
        run=run, item=items[number], is_done=is_done, at=clock.now(), by=by, person=person
    )


@transaction.atomic
def answer_note(
    run: Run,
    code: str,
    answer: str,
    words: str = "",
    *,
    sentence: str,
    by: Account,
    entered_by: Person | None = None,
) -> NoteAnswer:
    """Answer a note that asks, as it was shown. Refused once other figures stand on the sheet."""
    require(by, "fill in sheet", run)
    run = hold(run)
    _refuse_if_signed(run)
    check_length(words, LONGEST_WORDS, f"words_{code}")
    refuse_if_blocked(with_words(run.group, words, by))
    check_present(run, entered_by)
    asked = [note for note in notes_on_sheet(run, Sheet(run)) if note.code == code]
    note = next((note for note in asked if note.sentence == sentence), None)
    if note is None:
        raise refuse("note", "The sheet changed after this note was shown. Read it again.")
    if answer not in note.answers:
        raise refuse("answer", f"“{answer}” is not one of the answers to this note.", note.field)
    return NoteAnswer.objects.create(
        run=run, code=code, field=note.field, sentence=sentence, answer=answer,
        words=words.strip(), at=clock.now(), by=by, entered_by=entered_by,
    )  # fmt: skip


@transaction.atomic
def record_happening(
    run: Run, kind: str, words: str = "", *, by: Account, entered_by: Person | None = None
) -> Happening:
    """Note what happened during a run, at any time until its sheet is signed."""
    require(by, "fill in sheet", run)
    run = hold(run)
    _refuse_if_signed(run)
    if kind not in Happening.Kind.values:
        raise refuse("kind", "Choose what happened from the list.", "kind")
    if kind == Happening.Kind.OTHER and not words.strip():
        raise refuse("words", "“Something else” needs words that say what.", "words")
    check_length(words, LONGEST_WORDS, "words")
    refuse_if_blocked(with_words(run.group, words, by))
    check_present(run, entered_by)
    return Happening.objects.create(
        run=run, kind=kind, words=words.strip(), at=clock.now(), by=by, entered_by=entered_by
    )


def _refuse_if_signed(run: Run) -> None:
    if run.state == State.SIGNED:
        sentence = "This sheet is signed. Ask your TA to take the run up again first."
        raise refuse("signed", sentence)

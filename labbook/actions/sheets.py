"""Writing on the run sheet: figures, who is present."""

from __future__ import annotations

from collections.abc import Iterable

from django.core.exceptions import ObjectDoesNotExist
from django.db import transaction

from .. import clock
from ..access import require
from ..intake.figures import Ambiguous, NotANumber, read_figure, read_moment
from ..lookups.attendance import may_be_present
from ..models import Account, Person, Run, SheetEntry
from ..models.materials import LOTS
from ..problems import Conflict, check_length, refuse, refuse_if_blocked, with_entry
from ..problems.samples import with_words
from ..sheet import BOUNDS, FIELDS, Field
from .decisions import hold
from .reductions import reduce_if_readings_stand

LONGEST_TEXT, LONGEST_REASON = 2000, 200


@transaction.atomic
def enter_figure(
    run: Run,
    key: str,
    text: str,
    *,
    by: Account,
    entered_by: Person | None = None,
    based_on: int | None = None,
    reason: str = "",
) -> SheetEntry:
    """Append a figure to the sheet, exactly as typed.

    ``based_on`` is the entry the writer saw (0 for a blank field); when another stands there
    by now with a different text, Conflict is raised and nothing is written.
    """
    require(by, "fill in sheet", run)
    run = hold(run)
    field = FIELDS[key]
    text = text.strip()
    current = run.entries.filter(field=key).last()
    if current is not None and current.text == text:
        return current
    if not reason.strip() and key in BOUNDS and key != "fired_at_s":
        reason = "bound of a period moved"
    refuse_if_blocked(with_entry(run, field, reason))
    check_text(field, text)
    check_length(reason, LONGEST_REASON, "reason")
    refuse_if_blocked(with_words(run.group, f"{text} {reason}", by))
    check_present(run, entered_by)
    if current is not None and based_on is not None and based_on != current.pk:
        raise Conflict(current, text)
    entry = SheetEntry.objects.create(
        run=run, field=key, text=text, at=clock.now(), by=by,
        entered_by=entered_by, replaces=current, reason=reason.strip(),
    )  # fmt: skip
    if field.reader == "lot":
        _use_lot(run, key, text)
    if field.reduces:
        reduce_if_readings_stand(run, by=by, reason=f"{field.words} entered")
    return entry


def check_text(field: Field, text: str) -> None:
    """Raise Refused unless the text can stand in this field. A blank always can."""
    if not text:
        return
    check_length(text, LONGEST_TEXT, field.key)
    if field.reader == "choice" and text not in dict(field.choices):
        offered = ", ".join(words for _, words in field.choices)
        raise refuse(
            "choice", f"“{text}” was sent; one of these was expected: {offered}.", field.key
        )
    if field.reader in ("figure", "moment"):
        _check_number(field, text)


def _check_number(field: Field, text: str) -> None:
    try:
        value = read_moment(text) if field.reader == "moment" else read_figure(text).value
    except (Ambiguous, NotANumber) as error:
        raise refuse("not a number", str(error), field.key) from error
    if value < 0 and not field.may_be_negative:
        sentence = f"{text} was typed; “{field.words}” cannot be negative."
        raise refuse("negative", sentence, field.key)


def check_present(run: Run, person: Person | None) -> None:
    """Raise Refused unless the writer, where one is named, is present in the run."""
    if person is not None and not run.present.filter(pk=person.pk).exists():
        raise refuse("not present", f"{person} is not marked as present in this run.")


def _use_lot(run: Run, key: str, code: str) -> None:
    """Tie the run to the lot named, so that “which runs used lot X” is one query."""
    lot = None
    if code:
        try:
            lot = LOTS[key]._default_manager.get(code=code, in_use=True)
        except ObjectDoesNotExist as error:
            sentence = f"“{code}” is not a lot in use. Choose one from the list."
            raise refuse("lot", sentence, key) from error
    setattr(run, key, lot)
    run.save(update_fields=[key])


@transaction.atomic
def note_presence(run: Run, people: Iterable[Person], *, by: Account) -> None:
    """Say who is present: members of the group, and its visitors of that day."""
    require(by, "fill in sheet", run)
    run = hold(run)
    if run.is_finished:
        raise refuse("finished", f"{run} is {run.state}; who was present stays as it is.")
    allowed = set(may_be_present(run).values_list("pk", flat=True))
    strangers = [person for person in people if person.pk not in allowed]
    if strangers:
        names = ", ".join(str(person) for person in strangers)
        raise refuse("not a member", f"Not in group {run.group}: {names}.")
    gone = _who_acted(run) - {person.pk for person in people}
    if gone:
        names = ", ".join(str(person) for person in Person.objects.filter(pk__in=gone))
        raise refuse("has written", f"Already wrote on this sheet, so was present: {names}.")
    run.present.set(people)


def _who_acted(run: Run) -> set[int]:
    """Everybody whose name stands on the sheet: by a figure, or by a tick before firing."""
    wrote = run.entries.filter(entered_by__isnull=False).values_list("entered_by_id", flat=True)
    return {pk for pk in wrote if pk} | set(run.checks.values_list("person_id", flat=True))

"""Names and marks go for good when their time is over; a hold keeps them.

Records name people by their number, so nothing but the person's own row and its history changes,
and every chain of evidence verifies as before.
"""

from __future__ import annotations

import secrets
from typing import Any

from django.db import connection, transaction

from .. import clock
from ..access import require
from ..lookups.retention import Due, What, due_of, marks_to_go, people_to_go, standing_hold
from ..models import Account, LegalHold, Mark, Person, Purge, Term
from ..problems import check_length, refuse, refuse_if_blocked
from ..problems.retention import with_purging
from .sign_ins import end_sessions

LONGEST_REASON = 400
# Without letters and figures that are taken for one another.
ALPHABET = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"


@transaction.atomic
def purge(term: Term, what: str, typed: str, *, by: Account) -> Purge:
    """Remove the names or the marks of a term for good; ``typed`` is the term's name, by hand."""
    require(by, "set up")
    term = Term.objects.select_for_update().get(pk=term.pk)
    due = next((one for one in due_of(term) if one.what == what), None)
    if due is None:
        raise refuse("what", "Choose the names or the marks.")
    refuse_if_blocked(with_purging(due))
    if typed.strip() != term.name:
        sentence = f"“{typed.strip()}” was typed; the term’s name, {term.name}, was expected."
        raise refuse("typed", sentence, "typed")
    _overwrite_what_is_freed()
    report = _remove_names(due) if what == What.NAMES else _remove_marks(due)
    transaction.on_commit(_empty_freed_space)
    return Purge.objects.create(term=term, what=what, report=report, at=clock.now(), by=by)


def _remove_names(due: Due) -> dict[str, Any]:
    """Every person a name of their own that says nothing; how many, never who."""
    people = list(people_to_go(due.term))
    taken = set(Person.objects.filter(name__startswith="person ").values_list("name", flat=True))
    for person in people:
        _pseudonymize(person, taken)
    accounts = list(Account.objects.filter(group__section__term=due.term))
    for account in accounts:
        assert account.group is not None
        account.name, account.email = f"Group {account.group.code}", ""
        account.save(update_fields=["name", "email"])
    sessions = end_sessions(accounts)
    return {
        "people": len(people),
        "kept for another term": due.left,
        "sign-ins named by their group": len(accounts),
        "sessions ended": sessions,
        "kept until": str(due.until),
    }


def _pseudonymize(person: Person, taken: set[str]) -> None:
    """Drawn, not made from the name: nothing leads back. The history keeps its dates only."""
    name = _free_pseudonym(taken)
    gone = {"name": name, "student_number": "", "roster_id": ""}
    person.history.update(**gone)
    Person.objects.filter(pk=person.pk).update(**gone, pseudonymized_at=clock.now())


def _free_pseudonym(taken: set[str]) -> str:
    while True:
        name = "person " + "".join(secrets.choice(ALPHABET) for _ in range(4))
        if name not in taken:
            taken.add(name)
            return name


def _remove_marks(due: Due) -> dict[str, Any]:
    marks = marks_to_go(due.term)
    hand_ins = marks.values("hand_in").distinct().count()
    removed, _ = marks.delete()
    return {"marks": removed, "hand-ins they were for": hand_ins, "kept until": str(due.until)}


def _overwrite_what_is_freed() -> None:
    """SQLite leaves freed text in its file otherwise."""
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA secure_delete=ON")


def _empty_freed_space() -> None:
    """What was freed before this, and what waits in the log, must not hold a name either."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("VACUUM")
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        else:
            for model in (Person, Person.history.model, Mark):
                cursor.execute(f'VACUUM "{model._meta.db_table}"')


@transaction.atomic
def hold_term(term: Term, reason: str, *, by: Account) -> LegalHold:
    """Keep everything of a term, whatever its dates say, until the hold is lifted."""
    require(by, "set up")
    term = Term.objects.select_for_update().get(pk=term.pk)
    _check_reason(reason)
    if standing_hold(term) is not None:
        raise refuse("hold", f"A hold on {term} stands already.")
    return LegalHold.objects.create(term=term, reason=reason.strip(), at=clock.now(), by=by)


@transaction.atomic
def lift_hold(hold: LegalHold, reason: str, *, by: Account) -> LegalHold:
    require(by, "set up")
    hold = LegalHold.objects.select_for_update().get(pk=hold.pk)
    _check_reason(reason)
    if hold.lifted_at is not None:
        raise refuse("lifted", "This hold was lifted before.")
    hold.lifted_at, hold.lifted_by, hold.lifted_because = clock.now(), by, reason.strip()
    hold.save(update_fields=["lifted_at", "lifted_by", "lifted_because"])
    return hold


def _check_reason(reason: str) -> None:
    if not reason.strip():
        raise refuse("reason", "Say why; it is kept with the hold.", "reason")
    check_length(reason, LONGEST_REASON, "reason")

"""Taking in a roster: what the preview showed, all of it or nothing."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from django.db import transaction

from .. import clock
from ..access import require
from ..intake.rosters import Roster
from ..lookups.roster_changes import Change, Options, RosterPlan
from ..lookups.roster_standing import members_of, squeezed
from ..lookups.rosters import plan_roster
from ..models import Account, Group, Membership, Person, RosterImport, Section, Term
from ..problems import refuse
from ..problems.terms import refuse_if_closed
from .setup import keep

LONGEST_NAME = 255


@transaction.atomic
def apply_roster(
    term: Term,
    roster: Roster,
    options: Options,
    *,
    seen: str,
    name: str,
    sha256: str,
    by: Account,
) -> RosterImport:
    """Add, move, rename and drop as the preview said; ``seen`` is its fingerprint.

    Nobody is deleted: a drop ends the membership, and what the person did stays.
    """
    require(by, "set up")
    term = Term.objects.select_for_update().get(pk=term.pk)
    refuse_if_closed(term)
    plan = plan_roster(term, roster, options)
    if plan.seen != seen:
        sentence = "The term changed since this preview was made. Look at it again, then apply it."
        raise refuse("preview", sentence)
    if plan.is_empty:
        raise refuse("nothing", "The term is as this roster says already: there is nothing to do.")
    _apply(plan, by)
    return RosterImport.objects.create(
        term=term, name=name[:LONGEST_NAME], sha256=sha256, format=roster.format,
        counts=plan.counts, at=clock.now(), by=by,
    )  # fmt: skip


def _apply(plan: RosterPlan, by: Account) -> None:
    for name in plan.new_sections:
        keep(Section(term=plan.term, name=name), by=by)
    sections = {squeezed(one.name): one for one in plan.term.sections.all()}
    for section, code in plan.new_groups:
        keep(Group(section=sections[squeezed(section)], code=code), by=by)
    people = Person.objects.in_bulk([change.person for change in plan.changes if change.person])
    members = {member.person_id: member for member in members_of(plan.term)}
    groups = _groups_by_place(plan.term)
    since = max(clock.today(), plan.term.starts)
    for change in _in_order(plan.changes):
        person = people.get(change.person or 0)
        if change.kind in ("move", "drop"):
            _end(members[change.person or 0], since)
        if change.kind == "rename" and person is not None:
            _rename(person, change, by)
        if change.kind in ("add", "move"):
            group = groups[squeezed(change.section), squeezed(change.group)]
            person = person or _new_person(change, by)
            Membership.objects.create(group=group, person=person, since=since)


def _in_order(changes: Iterable[Change]) -> list[Change]:
    """Who goes before who comes."""
    return sorted(changes, key=lambda change: change.kind != "drop")


def _groups_by_place(term: Term) -> dict[tuple[str, str], Group]:
    groups = Group.objects.filter(section__term=term).select_related("section")
    return {(squeezed(one.section.name), squeezed(one.code)): one for one in groups}


def _end(member: Membership, on: date) -> None:
    """A membership that was to begin later ends on the day it was to begin."""
    member.until = max(on, member.since)
    member.save(update_fields=["until"])


def _rename(person: Person, change: Change, by: Account) -> None:
    person.name = change.name
    person.student_number = change.number or person.student_number
    person.roster_id = change.roster_id or person.roster_id
    keep(person, by=by)


def _new_person(change: Change, by: Account) -> Person:
    person = Person(name=change.name, student_number=change.number, roster_id=change.roster_id)
    keep(person, by=by)
    return person

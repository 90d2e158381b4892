"""A term's people as they are, by every key a roster may know them by."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import QuerySet

from ..intake.rosters import Roster
from ..models import Group, Membership, Person, Section, Term


def squeezed(name: str) -> str:
    """A section's or group's name as it is compared: case and blanks make no difference."""
    return " ".join(name.casefold().split())


def members_of(term: Term) -> QuerySet[Membership]:
    """Who is in a group of the term now."""
    found = Membership.objects.filter(group__section__term=term, until__isnull=True)
    return found.select_related("person", "group__section").order_by("pk")


@dataclass
class Standing:
    """The term as it is: its sections and groups by squeezed name, its people by each key."""

    sections: dict[str, str]
    groups: dict[str, dict[str, str]]
    members: dict[int, Membership]
    by_id: dict[str, list[Person]]
    by_number: dict[str, list[Person]]
    by_name: dict[str, list[Person]]


def standing_of(term: Term, roster: Roster) -> Standing:
    sections = list(Section.objects.filter(term=term))
    groups: dict[str, dict[str, str]] = {squeezed(one.name): {} for one in sections}
    for group in Group.objects.filter(section__term=term).select_related("section"):
        groups[squeezed(group.section.name)][squeezed(group.code)] = group.code
    members = {member.person_id: member for member in members_of(term)}
    known = Person.objects.filter(pseudonymized_at__isnull=True)
    ids = [entry.roster_id for entry in roster.entries if entry.roster_id]
    numbers = [entry.number for entry in roster.entries if entry.number]
    inside = [member.person for member in members.values()]
    return Standing(
        {squeezed(one.name): one.name for one in sections},
        groups,
        members,
        _grouped("roster_id", known.filter(roster_id__in=ids)),
        _grouped("student_number", known.filter(student_number__in=numbers)),
        _grouped("name", inside),
    )


def _grouped(name: str, people: Iterable[Person]) -> dict[str, list[Person]]:
    found: dict[str, list[Person]] = {}
    for person in people:
        found.setdefault(squeezed(getattr(person, name)), []).append(person)
    return found

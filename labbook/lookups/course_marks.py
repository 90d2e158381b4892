"""Marks for the course system: a line for each member of a group when it handed in."""

from __future__ import annotations

from django.db.models import Q
from django.utils import timezone

from ..models import Mark, Membership, Person, Section, Term
from .marking import standing_marks

MARK_COLUMNS = (
    "student_number", "name", "group", "section", "points", "out_of", "version", "marked_at",
)  # fmt: skip
Line = tuple[object, ...]


def marks_of_term(term: Term) -> list[Line]:
    return _lines(Q(hand_in__group__section__term=term))


def marks_of_section(section: Section) -> list[Line]:
    return _lines(Q(hand_in__group__section=section))


def _lines(which: Q) -> list[Line]:
    """The standing mark of each group, and of no group a mark made to compare markers."""
    marks = standing_marks(which)
    members: dict[int, list[Membership]] = {}
    found = Membership.objects.filter(group__in=marks).select_related("person")
    for one in found.order_by("person__name", "person"):
        members.setdefault(one.group_id, []).append(one)
    ordered = sorted(
        marks.values(), key=lambda m: (m.hand_in.group.section.name, m.hand_in.group.code)
    )
    return [
        _line(mark, person)
        for mark in ordered
        for person in _people_then(mark, members.get(mark.hand_in.group_id, []))
    ]


def _people_then(mark: Mark, members: list[Membership]) -> list[Person]:
    """Those who were in the group on the day it handed in, each once."""
    day = timezone.localtime(mark.hand_in.at).date()
    then = [one for one in members if one.since <= day and (one.until is None or day <= one.until)]
    return list(dict.fromkeys(one.person for one in then))


def _line(mark: Mark, person: Person) -> Line:
    group = mark.hand_in.group
    return (
        person.student_number, person.name, group.code, group.section.name,
        f"{mark.points.normalize():f}", f"{mark.out_of.normalize():f}", mark.hand_in.version,
        timezone.localtime(mark.at).isoformat(timespec="seconds"),
    )  # fmt: skip

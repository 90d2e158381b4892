"""A mark scheme, hand-ins and marks as a course has them."""

from __future__ import annotations

from collections.abc import Collection
from decimal import Decimal

from labbook.actions import runs
from labbook.actions.handing_in import hand_in
from labbook.actions.marking import give_marks_out, mark_hand_in
from labbook.lookups.marking import listed, own_mark, state_seen
from labbook.models import (
    Account,
    Descriptor,
    HandIn,
    Mark,
    MarkScheme,
    MarksGivenOut,
    Section,
    Term,
)

from .conftest import Laboratory, completed

WORDS = (
    ("Extrapolation", "Both drift lines are drawn", "2"),
    ("Extrapolation", "The crossing is marked", "1.5"),
    ("Combustion", "The sign is right", "0.5"),
    ("Combustion", "Δn is right", "6.00"),
)


def scheme_of(term: Term, *, is_blind: bool = False) -> MarkScheme:
    """Four descriptors of ten points, chosen for the term."""
    scheme = MarkScheme.objects.create(name="report", is_blind=is_blind)
    for order, (part, words, points) in enumerate(WORDS, start=1):
        Descriptor.objects.create(
            scheme=scheme, part=part, words=words, points=Decimal(points), order=order
        )
    Term.objects.filter(pk=term.pk).update(mark_scheme=scheme)
    term.refresh_from_db()
    return scheme


def handed_in(lab: Laboratory) -> HandIn:
    """One complete run of the group, handed in."""
    completed(runs.open_standardization_run(lab.bench, by=lab.group), lab)
    return hand_in(lab.group.group, by=lab.group)


def seen_by(hand_in: HandIn, account: Account) -> str:
    """What a page that this marker opens now is made from."""
    scheme = MarkScheme.objects.get(term__sections__groups__hand_ins=hand_in)
    return state_seen(scheme, own_mark(hand_in, account))


def mark(hand_in: HandIn, by: Account, *seen: str, remark: str = "", counts: bool = False) -> Mark:
    """A mark by somebody who saw the descriptors that begin with these words."""
    ticked = numbers(*seen)
    return mark_hand_in(hand_in, ticked, remark, seen=seen_by(hand_in, by), counts=counts, by=by)


def numbers(*beginnings: str) -> Collection[int]:
    return {Descriptor.objects.get(words__startswith=words, in_use=True).pk for words in beginnings}


def section_of(lab: Laboratory) -> Section:
    return Section.objects.get(groups=lab.group.group_id)


def give(lab: Laboratory) -> MarksGivenOut:
    section = section_of(lab)
    return give_marks_out(section, seen=listed(section, lab.assistant).seen, by=lab.assistant)


def marked_and_given_out(hand_in: HandIn, lab: Laboratory) -> Mark:
    """By two markers who differ on one descriptor; the second one's is the group's."""
    scheme_of(lab.term)
    mark(hand_in, lab.coordinator, "Both", "The sign")
    made = mark(hand_in, lab.assistant, "Both", "Δn", remark="Say which input dominates.")
    give(lab)
    return made

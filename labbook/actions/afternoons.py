"""A section's afternoon: preparing its benches, who came, moving people, handing over."""

from __future__ import annotations

from collections.abc import Mapping

from django.db import transaction

from .. import clock
from ..access import may, require
from ..cautions import PREPARATION
from ..lookups.attendance import seats_of, standing_marks
from ..lookups.bench_log import upkeep_of
from ..models import (
    Account,
    Attendance,
    Bench,
    BenchPreparation,
    Group,
    Handover,
    Membership,
    Person,
    Section,
)
from ..problems import check_length, left_open, refuse
from .bench_log import override_overdue
from .benches import hold_bench

Came = Attendance.Came
LONGEST_WHY, LONGEST_REMARK, LONGEST_HANDOVER = 400, 200, 1000


@transaction.atomic
def prepare_bench(
    section: Section,
    bench: Bench,
    ticked: list[str],
    words: str = "",
    *,
    release: bool,
    by: Account,
) -> BenchPreparation:
    """Say how far a bench is prepared for this afternoon, and whether it is released.

    What is not ticked, and a service that is overdue, need a reason to be passed over; the
    overdue service is then released in the bench log too, for today.
    """
    require(by, "look after section", section)
    check_length(words, LONGEST_WHY, "words")
    bench = hold_bench(bench)
    if not section.groups.filter(bench=bench).exists():
        raise refuse("booking", f"No group of section {section.name} is booked on {bench}.")
    done = [item for item in PREPARATION if item in ticked]
    if release:
        _release(bench, done, words, by)
    elif not words.strip():
        raise refuse("words", f"Say why {bench} is not released.", "words")
    return BenchPreparation.objects.create(
        section=section, bench=bench, on=clock.today(), is_released=release, ticked=done,
        words=words.strip(), at=clock.now(), by=by,
    )  # fmt: skip


def _release(bench: Bench, done: list[str], words: str, by: Account) -> None:
    if not bench.in_service:
        sentence = f"{bench} is out of service. Return it to service in its log first."
        raise refuse("out of service", sentence)
    overdue = upkeep_of([bench])[bench.pk].overdue
    passed_over = [item for item in PREPARATION if item not in done]
    passed_over += [f"{service.plan.words}, overdue: {service.sentence}" for service in overdue]
    if passed_over and not words.strip():
        listed = " ".join(f"“{item}”" for item in passed_over)
        sentence = f"Releasing {bench} all the same needs a reason. Not done: {listed}"
        raise refuse("not prepared", sentence, "words")
    if overdue:
        override_overdue(bench, words, by=by)


@transaction.atomic
def mark_attendance(section: Section, came: Mapping[int, str], *, by: Account) -> int:
    """Mark who came, by the number of the person; how many marks are new.

    A mark that stands already is not written again, and an earlier one is never overwritten.
    """
    require(by, "look after section", section)
    today = clock.today()
    seats = {seat.person.pk: seat for _, seats in seats_of(section, today) for seat in seats}
    new = 0
    for number, sent in came.items():
        if sent not in Came.values or number not in seats:
            raise refuse("attendance", "Choose present, late, absent or excused for each person.")
        seat = seats[number]
        if seat.came != sent:
            _mark(section, seat.person, seat.group, sent, seat.is_visitor, by=by)
            new += 1
    return new


def _mark(
    section: Section, person: Person, group: Group, came: str, is_visitor: bool, words: str = "",
    *, by: Account,
) -> Attendance:  # fmt: skip
    return Attendance.objects.create(
        section=section, on=clock.today(), person=person, group=group, came=came,
        is_visitor=is_visitor, words=words.strip(), at=clock.now(), by=by,
    )  # fmt: skip


@transaction.atomic
def seat_person(
    section: Section, person: Person, group: Group, words: str = "", *, for_good: bool, by: Account
) -> Attendance:
    """Let a person work with a group of the section: for today as its visitor, or for good.

    The move is a new row with its day; where they were before stays as it was.
    """
    require(by, "look after section", section)
    check_length(words, LONGEST_REMARK, "words")
    if group.section_id != section.pk:
        raise refuse("group", f"Group {group} is not of section {section.name}.", "group")
    own = _membership_in(section, person)
    standing = standing_marks(section, clock.today()).get(person.pk)
    place = own.group_id if for_good or standing is None else standing.group_id
    if place == group.pk:
        raise refuse("group", f"{person} is in group {group} already.", "group")
    if for_good:
        _move(own, group, by)
    came = standing.came if standing else Came.PRESENT
    is_visitor = not for_good and own.group_id != group.pk
    return _mark(section, person, group, came, is_visitor, words, by=by)


def _membership_in(section: Section, person: Person) -> Membership:
    found = person.memberships.filter(
        until__isnull=True, group__section__term=section.term_id
    ).select_related("group__section")
    own = found.select_for_update(of=("self",)).first()
    if own is None:
        sentence = f"{person} is in no group of {section.term}. A coordinator adds them first."
        raise refuse("person", sentence, "person")
    return own


def _move(own: Membership, group: Group, by: Account) -> None:
    """End one membership and begin another; both keep their dates."""
    if not may(by, "look after section", own.group.section):
        sentence = (
            f"{own.person} is in section {own.group.section.name}, which is not yours. Let them "
            "visit for today; a coordinator moves them for good."
        )
        raise refuse("section", sentence, "person")
    own.until = clock.today()
    own.save(update_fields=["until"])
    Membership.objects.create(group=group, person=own.person, since=clock.today())


@transaction.atomic
def hand_over(section: Section, words: str = "", *, by: Account) -> Handover:
    """Leave what is open to whoever comes next: in words, and as the list stands now."""
    require(by, "look after section", section)
    check_length(words, LONGEST_HANDOVER, "words")
    return Handover.objects.create(
        section=section, on=clock.today(), words=words.strip(),
        items=[item.as_dict() for item in left_open(section)], at=clock.now(), by=by,
    )  # fmt: skip

"""A section's afternoon: benches released or not, who came, who moved, what is handed over."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from labbook.actions import afternoons, runs
from labbook.actions import sheets as sheet_actions
from labbook.actions.bench_log import report_fault, take_out_of_service
from labbook.cautions import PREPARATION
from labbook.lookups.afternoons import handovers_of
from labbook.lookups.attendance import find_students, may_be_present, seats_of
from labbook.models import (
    Account,
    Attendance,
    BenchEvent,
    BenchPreparation,
    Group,
    Membership,
    Person,
    Section,
)
from labbook.problems import Refused, with_opening

from ..bench_log import ago, firings, seals
from ..conftest import Laboratory, colleague, completed, member

ALL = list(PREPARATION)


def section_of(lab: Laboratory) -> Section:
    assert lab.group.group is not None
    return lab.group.group.section


def second_group(lab: Laboratory, code: str = "M2") -> Group:
    return Group.objects.create(section=section_of(lab), code=code, bench=lab.other_bench)


def student_elsewhere(lab: Laboratory, name: str = "Ines Marlow") -> Person:
    person = Person.objects.create(name=name, student_number="77123")
    Membership.objects.create(
        group=lab.stranger.group, person=person, since=timezone.localdate() - timedelta(days=9)
    )
    return person


def test_a_bench_with_everything_ticked_is_released(laboratory: Laboratory) -> None:
    section, bench = section_of(laboratory), laboratory.bench
    made = afternoons.prepare_bench(section, bench, ALL, release=True, by=laboratory.assistant)
    assert made.is_released and made.on == timezone.localdate() and made.ticked == ALL


def test_what_is_not_ticked_needs_a_reason(laboratory: Laboratory) -> None:
    section, bench = section_of(laboratory), laboratory.bench
    with pytest.raises(Refused, match="needs a reason") as refused:
        afternoons.prepare_bench(section, bench, ALL[1:], release=True, by=laboratory.assistant)
    assert ALL[0] in str(refused.value) and not BenchPreparation.objects.exists()
    afternoons.prepare_bench(
        section, bench, ALL[1:], "filled later", release=True, by=laboratory.assistant
    )


def test_an_overdue_service_is_passed_over_with_a_reason_in_the_bench_log(
    laboratory: Laboratory,
) -> None:
    seals(every_firings=2)
    firings(laboratory, 3, ago(days=3))
    section, bench = section_of(laboratory), laboratory.bench
    with pytest.raises(Refused, match="overdue"):
        afternoons.prepare_bench(section, bench, ALL, release=True, by=laboratory.assistant)
    afternoons.prepare_bench(
        section, bench, ALL, "seals come on Friday", release=True, by=laboratory.assistant
    )
    assert BenchEvent.objects.get(kind="released").words == "seals come on Friday"
    assert runs.open_standardization_run(bench, by=laboratory.group).pk


def test_a_bench_out_of_service_is_not_released(laboratory: Laboratory) -> None:
    take_out_of_service(laboratory.bench, "valve leaks", by=laboratory.assistant)
    with pytest.raises(Refused, match="out of service"):
        afternoons.prepare_bench(
            section_of(laboratory), laboratory.bench, ALL, "all the same", release=True,
            by=laboratory.assistant,
        )  # fmt: skip


def test_not_releasing_needs_a_reason_and_only_warns_the_group(laboratory: Laboratory) -> None:
    section, bench, group = section_of(laboratory), laboratory.bench, laboratory.group.group
    assert group is not None and with_opening(bench, group) == []
    with pytest.raises(Refused, match="Say why"):
        afternoons.prepare_bench(section, bench, [], release=False, by=laboratory.assistant)
    afternoons.prepare_bench(
        section, bench, [], "no oxygen yet", release=False, by=laboratory.assistant
    )
    [problem] = with_opening(bench, group)
    assert problem.severity == "W" and "no oxygen yet" in problem.sentence
    assert runs.open_standardization_run(bench, by=laboratory.group).pk
    afternoons.prepare_bench(section, bench, ALL, release=True, by=laboratory.assistant)
    assert with_opening(bench, group) == [] and BenchPreparation.objects.count() == 2


def test_another_sections_bench_or_assistant_is_refused(laboratory: Laboratory) -> None:
    section = section_of(laboratory)
    with pytest.raises(Refused, match="No group of section"):
        afternoons.prepare_bench(
            section, laboratory.other_bench, ALL, release=True, by=laboratory.assistant
        )
    with pytest.raises(PermissionDenied):
        afternoons.prepare_bench(
            section, laboratory.bench, ALL, release=True, by=laboratory.other_assistant
        )


def test_a_mark_is_a_new_row_and_the_same_mark_none(laboratory: Laboratory) -> None:
    section, person = section_of(laboratory), laboratory.person
    for came in ("present", "present", "late"):
        afternoons.mark_attendance(section, {person.pk: came}, by=laboratory.assistant)
    rows = Attendance.objects.filter(person=person)
    assert [row.came for row in rows] == ["present", "late"]
    [(_, [seat])] = seats_of(section, timezone.localdate())
    assert seat.came == "late"


@pytest.mark.parametrize("came", ["", "here", "PRESENT"])
def test_an_unknown_mark_or_person_is_refused(laboratory: Laboratory, came: str) -> None:
    section = section_of(laboratory)
    with pytest.raises(Refused):
        afternoons.mark_attendance(section, {laboratory.person.pk: came}, by=laboratory.assistant)
    with pytest.raises(Refused):
        afternoons.mark_attendance(section, {99999: "present"}, by=laboratory.assistant)


def test_a_partner_moved_for_good_keeps_both_memberships_with_their_dates(
    laboratory: Laboratory,
) -> None:
    section, other, today = section_of(laboratory), second_group(laboratory), timezone.localdate()
    person = member(laboratory, "Bo Reed")
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    sheet_actions.note_presence(run, [laboratory.person, person], by=laboratory.group)
    afternoons.seat_person(section, person, other, for_good=True, by=laboratory.assistant)
    old, new = person.memberships.order_by("pk")
    assert old.until == today and old.group == laboratory.group.group
    assert (new.group, new.since, new.until) == (other, today, None)
    seats = dict(seats_of(section, today))
    assert [seat.person for seat in seats[other]] == [person] and not seats[other][0].is_visitor
    # The run they were in keeps them, also when the group saves who is here again.
    sheet_actions.note_presence(run, [laboratory.person, person], by=laboratory.group)


def test_a_visitor_from_another_section_may_be_present_that_day(laboratory: Laboratory) -> None:
    section, visitor = section_of(laboratory), student_elsewhere(laboratory)
    group = laboratory.group.group
    assert group is not None
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    with pytest.raises(Refused, match="Not in group"):
        sheet_actions.note_presence(run, [visitor], by=laboratory.group)
    assert [found.person for found in find_students(section, "marlow")] == [visitor]
    assert find_students(section, "77123") and not find_students(section, laboratory.person.name)
    made = afternoons.seat_person(section, visitor, group, for_good=False, by=laboratory.assistant)
    assert made.is_visitor and visitor.memberships.get(until=None).group != group
    sheet_actions.note_presence(run, [laboratory.person, visitor], by=laboratory.group)
    afternoons.mark_attendance(section, {visitor.pk: "absent"}, by=laboratory.assistant)
    run.present.clear()
    assert visitor not in may_be_present(run)


def test_nobody_is_moved_for_good_out_of_a_section_of_somebody_else(
    laboratory: Laboratory,
) -> None:
    section, person = section_of(laboratory), student_elsewhere(laboratory)
    group = laboratory.group.group
    assert group is not None
    with pytest.raises(Refused, match="which is not yours"):
        afternoons.seat_person(section, person, group, for_good=True, by=laboratory.assistant)
    afternoons.seat_person(section, person, group, for_good=True, by=laboratory.coordinator)
    assert person.memberships.get(until=None).group == group


def test_a_move_that_moves_nobody_is_refused(laboratory: Laboratory) -> None:
    section, group, person = section_of(laboratory), laboratory.group.group, laboratory.person
    assert group is not None
    with pytest.raises(Refused, match="already"):
        afternoons.seat_person(section, person, group, for_good=False, by=laboratory.assistant)
    elsewhere = laboratory.stranger.group
    assert elsewhere is not None
    with pytest.raises(Refused, match="is not of section"):
        afternoons.seat_person(section, person, elsewhere, for_good=False, by=laboratory.assistant)
    nobody = Person.objects.create(name="Not on the roster")
    with pytest.raises(Refused, match="in no group"):
        afternoons.seat_person(section, nobody, group, for_good=False, by=laboratory.assistant)


def words_of(items: list[dict[str, str]]) -> str:
    return "\n".join(item["words"] for item in items)


def test_a_handover_keeps_the_list_as_it_stood(laboratory: Laboratory) -> None:
    section = section_of(laboratory)
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    completed(run, laboratory)
    runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    report_fault(laboratory.bench, "stirrer belt slips", by=laboratory.group)
    made = afternoons.hand_over(section, "belt is ordered", by=laboratory.assistant)
    listed = words_of(made.items)
    for words in ("not signed", "is open since", "open fault", "1 person is not marked"):
        assert words in listed
    assert laboratory.person.name not in listed
    runs.sign_run(run, by=laboratory.assistant)
    made.refresh_from_db()
    assert "not signed" in words_of(made.items)
    assert "not signed" not in words_of(
        afternoons.hand_over(section, by=laboratory.assistant).items
    )


def test_the_next_assistant_and_the_coordinator_see_what_was_handed_over(
    laboratory: Laboratory,
) -> None:
    made = afternoons.hand_over(section_of(laboratory), "mind the belt", by=laboratory.assistant)
    seers: list[Account] = [colleague(laboratory), laboratory.coordinator]
    assert all(handovers_of(account) == [made] for account in seers)
    assert handovers_of(laboratory.other_assistant) == handovers_of(laboratory.group) == []

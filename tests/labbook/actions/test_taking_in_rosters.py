"""A roster against a term: added, moved, dropped, and what was seen is what is applied."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from django.core.exceptions import PermissionDenied
from django.core.management import CommandError, call_command

from labbook.actions.rosters import apply_roster
from labbook.actions.runs import open_standardization_run
from labbook.intake.rosters import read_roster
from labbook.lookups.roster_changes import Options, RosterPlan
from labbook.lookups.rosters import plan_roster
from labbook.models import Account, Group, Membership, Person, RosterImport, Section
from labbook.problems import Refused

from ..conftest import Laboratory, completed, member

HEAD = "section,group,name,number,id\n"


def plan(lab: Laboratory, rows: str, **options: object) -> RosterPlan:
    roster = read_roster((HEAD + rows).encode())
    return plan_roster(lab.term, roster, Options(**options))


def take(lab: Laboratory, rows: str, by: Account | None = None, **options: object) -> RosterImport:
    roster = read_roster((HEAD + rows).encode())
    chosen = Options(**options)
    return apply_roster(
        lab.term, roster, chosen, seen=plan_roster(lab.term, roster, chosen).seen, name="r.csv",
        sha256="0" * 64, by=by or lab.coordinator,
    )  # fmt: skip


def in_groups(lab: Laboratory) -> set[tuple[str, str]]:
    live = Membership.objects.filter(until__isnull=True, group__section__term=lab.term)
    return set(live.values_list("person__name", "group__code"))


def kinds(found: RosterPlan) -> list[tuple[str, str]]:
    return [(change.kind, change.name) for change in found.changes]


def test_adds_moves_and_drops(laboratory: Laboratory) -> None:
    member(laboratory, "Bea Ash")
    made = take(laboratory, "Friday,F1,Ada Quill,,\nmonday,m1,Cy Reed,9,\n")
    assert in_groups(laboratory) == {("Ada Quill", "F1"), ("Cy Reed", "M1")}
    assert made.counts["add"] == made.counts["move"] == made.counts["drop"] == 1
    assert Person.objects.filter(name="Bea Ash").exists()


def test_the_same_roster_again_changes_nothing(laboratory: Laboratory) -> None:
    rows = "Monday,M1,Ada Quill,7,x1\nFriday,F1,Bea Ash,8,x2\n"
    take(laboratory, rows)
    again = plan(laboratory, rows)
    assert again.is_empty and again.unchanged == 2
    with pytest.raises(Refused, match="nothing to do"):
        take(laboratory, rows)


def test_a_person_with_data_stays_with_it(laboratory: Laboratory) -> None:
    run = completed(open_standardization_run(laboratory.bench, by=laboratory.group), laboratory)
    take(laboratory, "Monday,M1,Cy Reed,9,\n")
    assert list(run.present.all()) == [laboratory.person]
    old = Membership.objects.get(person=laboratory.person)
    assert old.until is not None and old.group.code == "M1"


def test_the_same_person_is_found_by_id_then_number_then_name(laboratory: Laboratory) -> None:
    take(laboratory, "Monday,M1,Ada Quill,7,x1\n")
    assert Person.objects.get().roster_id == "x1"
    assert kinds(plan(laboratory, "Monday,M1,Ada Quill-Moss,7,x1\n")) == [
        ("rename", "Ada Quill-Moss")
    ]
    take(laboratory, "Monday,M1,Ada Quill-Moss,70,x1\n")
    person = Person.objects.get()
    assert (person.pk, person.name, person.student_number) == (
        laboratory.person.pk,
        "Ada Quill-Moss",
        "70",
    )


def test_a_namesake_with_another_number_is_somebody_else(laboratory: Laboratory) -> None:
    take(laboratory, "Monday,M1,Ada Quill,7,\n")
    take(laboratory, "Monday,M1,Ada Quill,7,\nFriday,F1,Ada Quill,8,\n")
    assert Person.objects.filter(name="Ada Quill").count() == 2


def test_a_number_that_is_anothers_is_a_bad_row(laboratory: Laboratory) -> None:
    take(laboratory, "Monday,M1,Ada Quill,7,x1\n")
    (row,) = plan(laboratory, "Monday,M1,Ada Quill,7,x2\n").bad
    assert "belongs to another id" in row.seen
    take(laboratory, "Monday,M1,Ada Quill,7,x1\nFriday,F1,Bea Ash,8,x2\n")
    (row,) = plan(laboratory, "Monday,M1,Ada Quill,8,x1\nFriday,F1,Bea Ash,,x2\n").bad
    assert "of different people" in row.seen


def test_unknown_sections_and_groups_are_bad_rows_or_made(laboratory: Laboratory) -> None:
    rows = "Tuesday,T1,Bea Ash,8,\nMonday,M2,Cy Reed,9,\nMonday,M1,Ada Quill,,\n"
    found = plan(laboratory, rows)
    assert [(row.where, row.seen) for row in found.bad] == [
        ("line 2", "section “Tuesday”"),
        ("line 3", "group “M2”"),
    ]
    assert "Friday, Monday" in found.bad[0].expected
    take(laboratory, rows, makes=True)
    assert Section.objects.get(name="Tuesday").history.get().history_user == laboratory.coordinator
    assert Group.objects.get(code="M2").section.name == "Monday"
    assert ("Bea Ash", "T1") in in_groups(laboratory)


def test_without_a_group_a_student_keeps_it_or_comes_where_places_are_free(
    laboratory: Laboratory,
) -> None:
    Group.objects.create(section=Section.objects.get(name="Monday"), code="M2")
    take(laboratory, "Monday,,Ada Quill,,\nMonday,,Bea Ash,8,\nMonday,,Cy Reed,9,\n", places=2)
    assert in_groups(laboratory) == {("Ada Quill", "M1"), ("Bea Ash", "M2"), ("Cy Reed", "M1")}
    full = "Monday,,Ada Quill,,\nMonday,,Bea Ash,8,\nMonday,,Di Moss,10,\n"
    (row,) = plan(laboratory, full, places=1, drops=False).bad
    assert "no place free" in row.seen


def test_a_full_group_is_a_bad_row(laboratory: Laboratory) -> None:
    (row,) = plan(laboratory, "Monday,M1,Ada Quill,,\nMonday,M1,Bea Ash,8,\n", places=1).bad
    assert row.where == "line 3" and "group M1 of section Monday is full" in row.seen


def test_nobody_is_dropped_for_a_row_that_could_not_be_read(laboratory: Laboratory) -> None:
    other = member(laboratory, "Bea Ash")
    found = plan(laboratory, "Monday,M9,Ada Quill,,\n")
    assert [change.name for change in found.held_back] == ["Ada Quill"]
    assert [change.person for change in found.of_kind("drop")] == [other.pk]
    swallowed = plan(laboratory, 'Monday,M1,"Ada Quill,,\nMonday,M1,Bea Ash,,\n')
    assert not swallowed.of_kind("drop") and len(swallowed.held_back) == 2


def test_drops_are_left_where_they_are_not_wanted(laboratory: Laboratory) -> None:
    assert not plan(laboratory, "Friday,F1,Bea Ash,8,\n", drops=False).of_kind("drop")


def test_what_changed_since_the_preview_is_not_applied(laboratory: Laboratory) -> None:
    roster = read_roster((HEAD + "Monday,M1,Ada Quill,,\n").encode())
    seen = plan_roster(laboratory.term, roster, Options()).seen
    member(laboratory, "Bea Ash")
    with pytest.raises(Refused, match="changed since this preview"):
        apply_roster(
            laboratory.term,
            roster,
            Options(),
            seen=seen,
            name="",
            sha256="",
            by=laboratory.coordinator,
        )
    assert ("Bea Ash", "M1") in in_groups(laboratory)


def test_rosters_are_a_coordinators(laboratory: Laboratory) -> None:
    with pytest.raises(PermissionDenied):
        take(laboratory, "Monday,M1,Bea Ash,8,\n", by=laboratory.assistant)


def test_the_command_prints_each_change_and_bad_row(laboratory: Laboratory, tmp_path: Path) -> None:
    file = tmp_path / "r.csv"
    file.write_text(HEAD + "Friday,F1,Ada Quill,,\nMonday,M1,Bea Ash,8,\nTuesday,T1,Cy Reed,9,\n")
    for options in ({"dry_run": True}, {}):
        out = io.StringIO()
        with pytest.raises(SystemExit) as ended:
            call_command("roster", str(file), term="autumn", stdout=out, **options)
        assert ended.value.code == 1
        assert "move Ada Quill: Friday, F1 (before: Monday, M1)" in out.getvalue()
        assert "add Bea Ash: Monday, M1" in out.getvalue()
        assert "bad row, line 4: section “Tuesday”." in out.getvalue()
    assert in_groups(laboratory) == {("Ada Quill", "F1"), ("Bea Ash", "M1")}
    with pytest.raises(CommandError, match="Terms are: autumn") as refused:
        call_command("roster", str(file), term="spring")
    assert refused.value.returncode == 2


def test_the_command_takes_a_folder_of_the_standard(laboratory: Laboratory, tmp_path: Path) -> None:
    files = {
        "classes.csv": "sourcedId,title\nc1,Monday\n",
        "users.csv": "sourcedId,givenName,familyName,identifier\nu1,Ada,Quill,7\n",
        "enrollments.csv": "sourcedId,classSourcedId,userSourcedId,role\ne1,c1,u1,student\n",
    }
    for name, text in files.items():
        (tmp_path / name).write_text(text)
    out = io.StringIO()
    call_command("roster", str(tmp_path), term="autumn", stdout=out)
    assert "correct Ada Quill" in out.getvalue() and Person.objects.get().roster_id == "u1"

"""Names and marks go for good when their time is over; everything else opens and verifies."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.urls import reverse
from django.utils import timezone

from labbook.actions.retention import hold_term, lift_hold, purge
from labbook.actions.rosters import apply_roster
from labbook.actions.runs import open_standardization_run
from labbook.actions.setup import keep
from labbook.intake.rosters import read_roster
from labbook.lookups.chain import verify_evidence
from labbook.lookups.fingerprints import fingerprint_of
from labbook.lookups.retention import due_of
from labbook.lookups.roster_changes import Options
from labbook.lookups.rosters import plan_roster
from labbook.models import (
    Descriptor,
    Group,
    HandIn,
    Mark,
    MarkScheme,
    Membership,
    Person,
    Purge,
    Section,
    Term,
)
from labbook.problems import Refused

from ..conftest import Laboratory, completed, set_up_laboratory, signed_in

NAMES, MARKS = Purge.What.NAMES, Purge.What.MARKS


def over(lab: Laboratory, days: int = 1) -> Term:
    """The term with its names' and marks' time over since that many days."""
    lab.term.names_until = lab.term.marks_until = timezone.localdate() - timedelta(days=days)
    lab.term.save()
    return lab.term


def marked(lab: Laboratory) -> Mark:
    scheme = MarkScheme.objects.create(name="usual")
    Descriptor.objects.create(scheme=scheme, part="rise", words="line drawn", points=1)
    handed_in = HandIn.objects.create(
        group=lab.group.group, version=1, at=timezone.now(), by=lab.group, record=b"x",
        record_sha256="0" * 64,
    )  # fmt: skip
    return Mark.objects.create(
        hand_in=handed_in, scheme=scheme, ticks=[], points=Decimal(1), out_of=Decimal(1),
        remark="neat lines by Quill", at=timezone.now(), by=lab.assistant,
    )  # fmt: skip


def whole_database() -> bytes:
    connection.ensure_connection()
    content: bytes = connection.connection.serialize()
    return content


@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(connection.vendor != "sqlite", reason="reads the file of SQLite")
def test_no_byte_of_the_database_holds_a_name_after_it() -> None:
    lab = set_up_laboratory()
    with connection.cursor() as cursor:
        # As most builds of SQLite have it: what is overwritten or deleted stays in the file.
        cursor.execute("PRAGMA secure_delete=OFF")
    lab.person.name, lab.person.student_number = "Ada Quillfeather", "q70013"
    keep(lab.person, by=lab.coordinator)
    lab.person.name = "Ada Quillfeather-Moss"
    keep(lab.person, by=lab.coordinator)
    Person.history.filter(name="Ada Quillfeather").delete()
    run = completed(open_standardization_run(lab.bench, by=lab.group), lab)
    mark, term, before = marked(lab), over(lab), fingerprint_of(run)
    assert b"Quillfeather" in whole_database() and b"q70013" in whole_database()
    purge(term, NAMES, "autumn", by=lab.coordinator)
    purge(term, MARKS, "autumn", by=lab.coordinator)
    left = whole_database()
    for gone in (b"Quillfeather", b"q70013", b"neat lines", b"Ada Quill"):
        assert gone not in left, gone
    assert verify_evidence().is_whole and fingerprint_of(run) == before
    assert not Mark.objects.filter(pk=mark.pk).exists()
    for name in ("run", "run_result", "run_readings", "data_sheet"):
        page = signed_in(lab.coordinator).get(reverse(name, args=[run.pk]))
        assert page.status_code == 200, name
    person = Person.objects.get()
    assert person.name.startswith("person ") and person.pseudonymized_at is not None
    assert list(run.present.all()) == [person]


def test_the_report_counts_and_names_nobody(laboratory: Laboratory) -> None:
    made = purge(over(laboratory), NAMES, " autumn ", by=laboratory.coordinator)
    assert made.report["people"] == 1 and "Quill" not in str(made.report)
    assert not due_of(laboratory.term)[0].count


@pytest.mark.parametrize("typed", ["", "Autumn", "spring"])
def test_the_terms_name_must_be_typed(laboratory: Laboratory, typed: str) -> None:
    with pytest.raises(Refused, match="autumn, was expected"):
        purge(over(laboratory), NAMES, typed, by=laboratory.coordinator)
    assert Person.objects.get().name == "Ada Quill"


@pytest.mark.parametrize(
    ("until", "words"), [(None, "No end is set"), (timezone.localdate(), "are kept until")]
)
def test_nothing_goes_before_its_time(
    laboratory: Laboratory, until: date | None, words: str
) -> None:
    laboratory.term.names_until = until
    laboratory.term.save()
    with pytest.raises(Refused, match=words):
        purge(laboratory.term, NAMES, "autumn", by=laboratory.coordinator)


def test_a_hold_keeps_everything_until_it_is_lifted(laboratory: Laboratory) -> None:
    term = over(laboratory)
    hold = hold_term(term, "an appeal", by=laboratory.coordinator)
    with pytest.raises(Refused, match=r"hold by coordinator.*an appeal"):
        purge(term, NAMES, "autumn", by=laboratory.coordinator)
    with pytest.raises(Refused, match="stands already"):
        hold_term(term, "another", by=laboratory.coordinator)
    with pytest.raises(Refused, match="Say why"):
        lift_hold(hold, " ", by=laboratory.coordinator)
    lift_hold(hold, "settled", by=laboratory.coordinator)
    assert purge(term, NAMES, "autumn", by=laboratory.coordinator)
    assert verify_evidence().is_whole


def in_another_term(lab: Laboratory, names_until: date | None) -> Term:
    today = timezone.localdate()
    term = Term.objects.create(
        name="spring", starts=today, ends=today, method=lab.method, names_until=names_until
    )
    group = Group.objects.create(section=Section.objects.create(term=term, name="S"), code="S1")
    Membership.objects.create(group=group, person=lab.person, since=today)
    return term


def test_whom_another_term_keeps_by_name_stays(laboratory: Laboratory) -> None:
    other = in_another_term(laboratory, None)
    term = over(laboratory)
    assert (due_of(term)[0].count, due_of(term)[0].left) == (0, 1)
    other.names_until = timezone.localdate() - timedelta(days=1)
    other.save()
    assert due_of(term)[0].count == 1
    hold_term(other, "an inquiry", by=laboratory.coordinator)
    assert due_of(term)[0].count == 0


def test_a_removed_person_is_not_found_again_by_a_roster(laboratory: Laboratory) -> None:
    laboratory.person.student_number = "7"
    laboratory.person.save()
    purge(over(laboratory), NAMES, "autumn", by=laboratory.coordinator)
    roster = read_roster(b"section,group,name,number\nMonday,M1,Ada Quill,7\n")
    seen = plan_roster(laboratory.term, roster, Options()).seen
    apply_roster(
        laboratory.term, roster, Options(), seen=seen, name="", sha256="", by=laboratory.coordinator
    )
    assert Person.objects.count() == 2


def test_removing_is_a_coordinators(laboratory: Laboratory) -> None:
    with pytest.raises(PermissionDenied):
        purge(over(laboratory), NAMES, "autumn", by=laboratory.assistant)
    with pytest.raises(PermissionDenied):
        hold_term(laboratory.term, "why", by=laboratory.assistant)

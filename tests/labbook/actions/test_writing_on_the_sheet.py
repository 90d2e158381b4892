"""Figures on the sheet: kept as typed, corrected in the open, by people who are there."""

from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from labbook.actions import runs, sheets, standardizations
from labbook.lookups.sheets import Sheet
from labbook.models import Membership, Person, Run
from labbook.problems import Conflict, Refused

from ..conftest import Laboratory, completed, member, put_forward, ready_to_fire


@pytest.fixture
def run(laboratory: Laboratory) -> Run:
    return runs.open_standardization_run(laboratory.bench, by=laboratory.group)


@pytest.mark.parametrize("text", ["1.0000", "0013.50", "13,4502", "−0", "1\u202f000.5"])
def test_a_figure_stays_as_typed(laboratory: Laboratory, run: Run, text: str) -> None:
    sheets.enter_figure(run, "charge_gross_g", f" {text} ", by=laboratory.group)
    assert run.entries.get().text == text


@pytest.mark.parametrize(
    ("key", "text", "said"),
    [
        ("charge_gross_g", "about one", "“about one” is not a number"),
        ("charge_gross_g", "1,234", "did you mean 1.234 or 1234"),
        ("charge_gross_g", "-1.0", "cannot be negative"),
        ("charge_gross_g", "−1.0", "cannot be negative"),
        ("charge_gross_g", "1e3", "is not a number"),
        ("charge_gross_g", "NaN", "is not a number"),
        ("charge_gross_g", "9" * 25, "too long"),
        ("charge_gross_g", "9" * 2001, "2001 characters were typed; at most 2000"),
        ("charge_gross_g", "1\x002", "zero byte"),
        ("fired_at_s", "5:75", "is not a time"),
        ("soot", "some", "one of these was expected: none, a trace, much"),
        ("standard_lot", "S9", "“S9” is not a lot in use"),
        ("remarks", "x" * 2001, "2001 characters were typed; at most 2000"),
        ("remarks", "so\0ot", "zero byte"),
    ],
)
def test_what_cannot_stand_is_refused_and_not_kept(
    laboratory: Laboratory, run: Run, key: str, text: str, said: str
) -> None:
    with pytest.raises(Refused) as refusal:
        sheets.enter_figure(run, key, text, by=laboratory.group)
    assert said in str(refusal.value)
    assert not run.entries.exists()


def test_a_room_may_be_below_zero(laboratory: Laboratory, run: Run) -> None:
    sheets.enter_figure(run, "room_c", "-2.5", by=laboratory.group)
    assert Sheet(run).text("room_c") == "-2.5"


def test_a_lot_out_of_use_is_refused(laboratory: Laboratory, run: Run) -> None:
    lot = sheets.LOTS["fuse_lot"].objects.get(code="W1")
    lot.in_use = False
    lot.save()
    with pytest.raises(Refused, match="not a lot in use"):
        sheets.enter_figure(run, "fuse_lot", "W1", by=laboratory.group)


def test_a_field_of_another_kind_of_run_is_refused(laboratory: Laboratory) -> None:
    blank = runs.open_other_run(laboratory.bench, Run.Kind.BLANK, by=laboratory.group)
    with pytest.raises(Refused, match="not on the sheet of a blank run"):
        sheets.enter_figure(blank, "charge_gross_g", "1", by=laboratory.group)


def test_an_open_runs_figure_is_replaced_and_stays_struck_out(
    laboratory: Laboratory, run: Run
) -> None:
    first = sheets.enter_figure(run, "room_c", "21.5", by=laboratory.group)
    second = sheets.enter_figure(run, "room_c", "22.5", by=laboratory.group)
    assert second.replaces == first
    sheet = Sheet(run)
    assert (sheet.text("room_c"), sheet.earlier["room_c"]) == ("22.5", [first])


def test_the_same_text_again_writes_nothing(laboratory: Laboratory, run: Run) -> None:
    first = sheets.enter_figure(run, "room_c", "21.5", by=laboratory.group)
    assert sheets.enter_figure(run, "room_c", "21.5 ", by=laboratory.group) == first
    assert run.entries.count() == 1


def test_two_people_in_one_field_are_asked(laboratory: Laboratory, run: Run) -> None:
    first = sheets.enter_figure(run, "room_c", "21.5", by=laboratory.group, based_on=0)
    with pytest.raises(Conflict) as conflict:
        sheets.enter_figure(run, "room_c", "22.5", by=laboratory.assistant, based_on=0)
    assert (conflict.value.theirs, conflict.value.yours) == (first, "22.5")
    assert Sheet(run).text("room_c") == "21.5"
    sheets.enter_figure(run, "room_c", "22.5", by=laboratory.assistant, based_on=first.pk)
    assert Sheet(run).text("room_c") == "22.5"


def test_a_version_that_never_was_is_no_conflict(laboratory: Laboratory, run: Run) -> None:
    sheets.enter_figure(run, "room_c", "21.5", by=laboratory.group, based_on=99)
    assert Sheet(run).text("room_c") == "21.5"


def test_a_correction_of_a_complete_run_needs_its_reason(laboratory: Laboratory, run: Run) -> None:
    completed(run, laboratory)
    with pytest.raises(Refused, match="Say why the figure changes"):
        sheets.enter_figure(run, "charge_gross_g", "13.9867", by=laboratory.group, reason=" ")
    with pytest.raises(Refused, match="201 characters"):
        sheets.enter_figure(run, "charge_gross_g", "13.9867", by=laboratory.group, reason="x" * 201)
    assert Sheet(run).text("charge_gross_g") == "13.9876"


def test_a_correction_reduces_anew_and_keeps_the_old_result(
    laboratory: Laboratory, run: Run
) -> None:
    run = completed(run, laboratory)
    old, count = run.result, run.results.count()
    assert old is not None and old.c_j_per_k is not None
    entry = sheets.enter_figure(
        run, "charge_gross_g", "13.9976", by=laboratory.group, reason="digits swapped"
    )
    run.refresh_from_db()
    assert run.results.count() == count + 1
    assert run.result is not None and run.result.c_j_per_k is not None
    # 10 mg more of 987.6 mg: the charge's heat, nearly all of it, grows by 1.01 %.
    assert run.result.c_j_per_k / old.c_j_per_k == pytest.approx(1.0101, abs=2e-4)
    old.refresh_from_db()
    assert old in run.results.all()
    assert entry.replaces is not None and entry.replaces.text == "13.9876"
    assert (entry.reason, entry.by) == ("digits swapped", laboratory.group)


def test_a_remark_on_a_complete_run_computes_nothing_new(laboratory: Laboratory, run: Run) -> None:
    run = completed(run, laboratory)
    sheets.enter_figure(run, "remarks", "cloudy", by=laboratory.group, reason="forgotten")
    assert Run.objects.get(pk=run.pk).result == run.result


def test_nothing_is_corrected_once_put_forward_or_approved(laboratory: Laboratory) -> None:
    found = put_forward(laboratory)
    run = found.runs.get(replicate=1)
    with pytest.raises(Refused, match="is put forward, so its runs cannot change"):
        sheets.enter_figure(run, "water_ml", "2", by=laboratory.group, reason="slip")
    seen = standardizations.summary_of(found).seen
    standardizations.approve(found, by=laboratory.assistant, seen=seen)
    with pytest.raises(Refused, match="is approved, so its runs cannot change"):
        sheets.enter_figure(run, "water_ml", "2", by=laboratory.group, reason="slip")
    with pytest.raises(Refused, match="is approved, so its runs cannot change"):
        sheets.enter_figure(run, "settled_at_s", "700", by=laboratory.group)


def test_a_signed_or_set_aside_sheet_stays_as_it_is(laboratory: Laboratory, run: Run) -> None:
    runs.sign_run(completed(run, laboratory), by=laboratory.assistant)
    with pytest.raises(Refused, match="This sheet is signed"):
        sheets.enter_figure(run, "water_ml", "2", by=laboratory.group, reason="slip")
    runs.set_run_aside(run, Run.Cause.SOOT, "", by=laboratory.assistant)
    with pytest.raises(Refused, match="was set aside; its sheet stays"):
        sheets.enter_figure(run, "water_ml", "2", by=laboratory.group, reason="slip")


@pytest.mark.parametrize("who", ["stranger", "other_assistant", "coordinator"])
def test_a_sheet_is_written_by_its_group_and_its_tas(
    laboratory: Laboratory, run: Run, who: str
) -> None:
    with pytest.raises(PermissionDenied):
        sheets.enter_figure(run, "room_c", "21", by=getattr(laboratory, who))
    with pytest.raises(PermissionDenied):
        sheets.note_presence(run, [laboratory.person], by=getattr(laboratory, who))


def test_only_somebody_present_writes(laboratory: Laboratory, run: Run) -> None:
    with pytest.raises(Refused, match="Ada Quill is not marked as present"):
        sheets.enter_figure(run, "room_c", "21", by=laboratory.group, entered_by=laboratory.person)
    sheets.note_presence(run, [laboratory.person], by=laboratory.group)
    entry = sheets.enter_figure(
        run, "room_c", "21", by=laboratory.group, entered_by=laboratory.person
    )
    assert entry.entered_by == laboratory.person


def test_only_members_of_today_are_present(laboratory: Laboratory, run: Run) -> None:
    outsider = Person.objects.create(name="Cy Vale")
    with pytest.raises(Refused, match="Not in group M1: Cy Vale"):
        sheets.note_presence(run, [laboratory.person, outsider], by=laboratory.group)
    left = member(laboratory, "Bo Reed")
    Membership.objects.filter(person=left).update(until=timezone.localdate() - timedelta(days=1))
    with pytest.raises(Refused, match="Not in group M1: Bo Reed"):
        sheets.note_presence(run, [left], by=laboratory.group)


def test_who_has_written_was_there(laboratory: Laboratory, run: Run) -> None:
    sheets.note_presence(run, [laboratory.person], by=laboratory.group)
    sheets.enter_figure(run, "room_c", "21", by=laboratory.group, entered_by=laboratory.person)
    with pytest.raises(Refused, match="Already wrote on this sheet"):
        sheets.note_presence(run, [], by=laboratory.group)


def test_presence_stays_once_the_run_is_complete(laboratory: Laboratory, run: Run) -> None:
    completed(run, laboratory)
    with pytest.raises(Refused, match="who was present stays"):
        sheets.note_presence(run, [], by=laboratory.group)


def test_net_mass_that_disagrees_warns_and_does_not_lock(laboratory: Laboratory, run: Run) -> None:
    ready_to_fire(run, laboratory, charge_net_g="0.9786")
    assert runs.mark_fired(run, "300", by=laboratory.group).state == Run.State.FIRED

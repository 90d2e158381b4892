"""Before, at and after a firing: the checklist by name, answers to notes, what happened."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from labbook.actions import around_firing, misfires, runs, sheets
from labbook.lookups.around_firing import checklist_of
from labbook.lookups.sheets import Sheet
from labbook.models import Happening, Method, Person, Run
from labbook.problems import Problem, Refused, notes_on_sheet, with_firing

from ..conftest import (
    AFTER_FIRING,
    BEFORE_FIRING,
    Laboratory,
    completed,
    curve,
    fill_in,
    fired,
    hand_in,
    member,
    ready_to_fire,
    tick_all,
    unknown,
)


@pytest.fixture
def run(laboratory: Laboratory) -> Run:
    return runs.open_standardization_run(laboratory.bench, by=laboratory.group)


def codes(run: Run) -> list[str]:
    return [problem.code for problem in with_firing(run, Sheet(run))]


def note(run: Run, code: str) -> Problem | None:
    run = Run.objects.get(pk=run.pk)
    return next((n for n in notes_on_sheet(run, Sheet(run)) if n.code == code), None)


# The checklist


def test_firing_waits_for_every_item_and_names_each(laboratory: Laboratory, run: Run) -> None:
    ready_to_fire(run, laboratory)
    around_firing.untick_item(run, 3, laboratory.person, by=laboratory.group)
    with pytest.raises(Refused, match="Not ticked yet: “No leak: no bubbles rise"):
        runs.mark_fired(run, "300", by=laboratory.group)
    around_firing.tick_item(run, 3, laboratory.person, by=laboratory.group)
    assert runs.mark_fired(run, "300", by=laboratory.group).state == Run.State.FIRED


def test_ticks_and_unticks_stay_on_record_with_name_and_time(
    laboratory: Laboratory, run: Run
) -> None:
    ready_to_fire(run, laboratory)
    second = member(laboratory, "Bo Reed")
    sheets.note_presence(run, [laboratory.person, second], by=laboratory.group)
    around_firing.untick_item(run, 0, second, by=laboratory.group)
    checks = run.checks.filter(item=run.method.firing_checklist.splitlines()[0])
    assert [(check.is_done, check.person.name) for check in checks] == [
        (True, "Ada Quill"),
        (False, "Bo Reed"),
    ]


def test_only_somebody_present_ticks_and_stays_present(laboratory: Laboratory, run: Run) -> None:
    absent = member(laboratory, "Bo Reed")
    sheets.note_presence(run, [laboratory.person], by=laboratory.group)
    with pytest.raises(Refused, match="Bo Reed is not marked as present"):
        around_firing.tick_item(run, 0, absent, by=laboratory.group)
    around_firing.tick_item(run, 0, laboratory.person, by=laboratory.group)
    with pytest.raises(Refused, match="Already wrote on this sheet"):
        sheets.note_presence(run, [absent], by=laboratory.group)


def test_ticks_lapse_when_a_leak_is_seen_after_them(laboratory: Laboratory, run: Run) -> None:
    ready_to_fire(run, laboratory)
    sheets.enter_figure(run, "leak_check", "leak", by=laboratory.group)
    sheets.enter_figure(run, "leak_check", "tight", by=laboratory.group)
    assert set(codes(run)) == {"unticked"}
    assert all(item.lapsed for item in checklist_of(run, Sheet(run)))
    tick_all(run, laboratory)
    assert codes(run) == []


def test_a_leak_noted_under_what_happened_stops_the_firing_too(
    laboratory: Laboratory, run: Run
) -> None:
    ready_to_fire(run, laboratory)
    around_firing.record_happening(run, Happening.Kind.LEAK, by=laboratory.group)
    assert "leak" in codes(run)
    for text in ("leak", "tight"):
        sheets.enter_figure(run, "leak_check", text, by=laboratory.group)
    tick_all(run, laboratory)
    assert codes(run) == []


def test_an_empty_checklist_asks_for_no_ticks(laboratory: Laboratory, run: Run) -> None:
    Method.objects.update(firing_checklist=" \n\n")
    run = Run.objects.get(pk=run.pk)
    sheets.note_presence(run, [laboratory.person], by=laboratory.group)
    fill_in(run, BEFORE_FIRING, laboratory.group)
    assert codes(run) == []
    with pytest.raises(Refused, match="no item 1"):
        around_firing.tick_item(run, 0, laboratory.person, by=laboratory.group)


def test_after_the_firing_the_checklist_stays(laboratory: Laboratory, run: Run) -> None:
    run = fired(run, laboratory)
    with pytest.raises(Refused, match="its checklist stays as it is"):
        around_firing.untick_item(run, 0, laboratory.person, by=laboratory.group)


def test_nobody_fires_a_bomb_alone_in_the_record(laboratory: Laboratory, run: Run) -> None:
    fill_in(run, BEFORE_FIRING, laboratory.group)
    assert "nobody present" in codes(run)


# Notes and their answers


def test_swapped_digits_of_the_net_mass_are_asked_about(laboratory: Laboratory, run: Run) -> None:
    ready_to_fire(run, laboratory, charge_gross_g="13.9412", charge_net_g="0.9142")
    found = note(run, "net_mass")
    assert found is not None and found.field == "charge_net_g"
    assert "is 0.9412 g; you noted 0.9142 g. Two digits swapped?" in found.sentence


def test_a_light_charge_is_asked_about(laboratory: Laboratory, run: Run) -> None:
    ready_to_fire(run, laboratory, charge_gross_g="13.0950")
    found = note(run, "light_charge")
    assert found is not None and "0.0950 g; at least 0.3 g" in found.sentence


def test_the_same_mass_as_an_earlier_run_is_asked_about(laboratory: Laboratory) -> None:
    first = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    completed(first, laboratory)
    second = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    ready_to_fire(second, laboratory, charge_gross_g="14.0876", charge_tare_g="13.1000")
    found = note(second, "same_mass")
    assert found is not None
    assert "The same mass as your standardization run 1, to 0.1 mg" in found.sentence
    sheets.enter_figure(second, "charge_gross_g", "14.0877", by=laboratory.group)
    assert note(second, "same_mass") is None


def test_another_groups_masses_are_told_without_its_name(laboratory: Laboratory, run: Run) -> None:
    theirs = runs.open_standardization_run(laboratory.other_bench, by=laboratory.stranger)
    fill_in(theirs, BEFORE_FIRING, laboratory.stranger)
    laboratory.stranger.group.section = laboratory.group.group.section
    laboratory.stranger.group.code = "M2"
    laboratory.stranger.group.save()
    ready_to_fire(run, laboratory)
    found = note(run, "same_mass")
    assert found is not None and "a run of another group of your section" in found.sentence
    sheets.enter_figure(run, "charge_gross_g", "14.0876", by=laboratory.group)
    assert note(run, "same_mass") is None, "a crucible may weigh the same"
    sheets.enter_figure(run, "charge_tare_g", "13.1000", by=laboratory.group)
    assert note(run, "same_mass") is None, "a charge may agree by chance"


def test_other_bucket_water_says_by_how_much_c_is_corrected(
    laboratory: Laboratory, run: Run
) -> None:
    ready_to_fire(run, laboratory, bucket_gross_g="2750.0")
    found = note(run, "other_bucket_water")
    assert found is not None and found.field == "bucket_gross_g"
    # 50 g at 4.18 J/(g K) (CoolProp, 23 °C: 4.18224): 0.209 kJ/K.
    assert "Water 1950.0 g, this bench uses 2000 g. C will be corrected by −0.209" in found.sentence


def test_water_by_volume_is_compared_too(laboratory: Laboratory, run: Run) -> None:
    figures = {"bucket_gross_g": "", "bucket_tare_g": "", "bucket_volume_ml": "2050.0"}
    ready_to_fire(run, laboratory, **figures, bucket_temperature_c="23.0")
    found = note(run, "other_bucket_water")
    # 2050 mL × 0.997541 g/mL (CoolProp, 23 °C) = 2045.0 g.
    assert found is not None and "Water 2045.0 g" in found.sentence
    assert found.field == "bucket_volume_ml"


def test_the_threshold_of_the_course_decides(laboratory: Laboratory, run: Run) -> None:
    ready_to_fire(run, laboratory, bucket_gross_g="2750.0")
    Method.objects.update(thresholds={"water_g": 60.0})
    assert note(run, "other_bucket_water") is None


def test_a_missing_titre_may_be_left_out_and_said_so(laboratory: Laboratory, run: Run) -> None:
    run = fired(run, laboratory)
    found = note(run, "titre_missing")
    assert found is not None and "Leave the acid out (about 0.2 %)" in found.sentence
    kept = around_firing.answer_note(
        run, found.code, "leave out", "burette broken", sentence=found.sentence, by=laboratory.group
    )
    assert (kept.field, kept.words) == ("titre_ml", "burette broken")
    sheets.enter_figure(run, "titre_ml", "7.9", by=laboratory.group)
    assert note(run, "titre_missing") is None


def test_wire_left_out_and_said_so_no_longer_keeps_the_run_open(
    laboratory: Laboratory, run: Run
) -> None:
    run = fired(run, laboratory)
    fill_in(run, AFTER_FIRING | {"fuse_left": ""}, laboratory.group)
    hand_in(run, curve(), laboratory.group)
    with pytest.raises(Refused, match="“Fuse wire left, all pieces” is not filled in"):
        runs.complete_run(run, by=laboratory.group)
    found = note(run, "wire_missing")
    assert found is not None
    around_firing.answer_note(
        run, found.code, "leave out", sentence=found.sentence, by=laboratory.group
    )
    assert runs.complete_run(run, by=laboratory.group).state == Run.State.COMPLETE


def test_unanswered_notes_do_not_keep_a_run_from_being_complete(
    laboratory: Laboratory, run: Run
) -> None:
    run = completed(run, laboratory, titre_ml="", bucket_gross_g="2750.0")
    assert run.state == Run.State.COMPLETE
    assert note(run, "other_bucket_water") is not None


def test_an_answer_holds_for_its_figures_alone(laboratory: Laboratory, run: Run) -> None:
    ready_to_fire(run, laboratory, bucket_gross_g="2750.0")
    found = note(run, "other_bucket_water")
    assert found is not None
    sheets.enter_figure(run, "bucket_gross_g", "2760.0", by=laboratory.group)
    with pytest.raises(Refused, match="The sheet changed after this note was shown"):
        around_firing.answer_note(
            run, found.code, "as it is", sentence=found.sentence, by=laboratory.group
        )


def test_a_note_takes_only_the_answers_that_make_sense(laboratory: Laboratory, run: Run) -> None:
    ready_to_fire(run, laboratory)
    found = note(run, "certificate_basis")
    assert found is not None and "Factor 1.00076 is applied" in found.sentence
    with pytest.raises(Refused, match="not one of the answers"):
        around_firing.answer_note(
            run, found.code, "leave out", sentence=found.sentence, by=laboratory.group
        )


def test_soot_noted_under_what_happened_is_held_against_the_sheet(
    laboratory: Laboratory, run: Run
) -> None:
    run = completed(run, laboratory)
    around_firing.record_happening(run, Happening.Kind.SOOT, by=laboratory.group)
    found = note(run, "soot_noted")
    assert found is not None and found.field == "soot"


def test_much_soot_says_what_a_milligram_costs(laboratory: Laboratory, run: Run) -> None:
    run = completed(run, laboratory)
    sheets.enter_figure(run, "soot", "much", by=laboratory.group, reason="looked again")
    found = note(run, "unburned")
    # Handbook figure for 1 g of benzoic acid: 0.12 %; here 0.9876 g.
    assert found is not None and "lowers the heat by 0.13 %" in found.sentence


def test_much_soot_of_an_unknown_tells_nothing_of_its_energy(laboratory: Laboratory) -> None:
    run = completed(unknown(laboratory), laboratory, rise_k=2.31)
    sheets.enter_figure(run, "soot", "much", by=laboratory.group, reason="looked again")
    found = note(run, "unburned")
    assert found is not None and "%" not in found.sentence


def test_a_booking_moved_away_is_asked_about(laboratory: Laboratory, run: Run) -> None:
    laboratory.group.group.bench = laboratory.other_bench
    laboratory.group.group.save()
    found = note(run, "other_bench")
    assert found is not None and "group M1 is booked on bench B2 now" in found.sentence


# What happened


def test_what_happened_is_kept_also_after_completion_until_signed(
    laboratory: Laboratory, run: Run
) -> None:
    run = completed(run, laboratory)
    kept = around_firing.record_happening(
        run, "stirrer", "belt off", by=laboratory.group, entered_by=laboratory.person
    )
    assert (kept.kind, kept.words, kept.entered_by) == ("stirrer", "belt off", laboratory.person)
    runs.sign_run(run, by=laboratory.assistant)
    with pytest.raises(Refused, match="This sheet is signed"):
        around_firing.record_happening(run, "late", by=laboratory.group)


@pytest.mark.parametrize(
    ("kind", "words", "why"),
    [
        ("", "", "Choose what happened"),
        ("ghost", "", "Choose what happened"),
        ("other", " ", "needs words"),
        ("late", "x" * 401, "at most 400"),
    ],
)
def test_what_happened_must_be_said(
    laboratory: Laboratory, run: Run, kind: str, words: str, why: str
) -> None:
    with pytest.raises(Refused, match=why):
        around_firing.record_happening(run, kind, words, by=laboratory.group)


@pytest.mark.parametrize("who", ["stranger", "other_assistant", "coordinator"])
def test_what_happened_is_the_groups_and_its_tas(
    laboratory: Laboratory, run: Run, who: str
) -> None:
    with pytest.raises(PermissionDenied):
        around_firing.record_happening(run, "late", by=getattr(laboratory, who))


# Misfires, and the run after one


def test_a_misfire_is_noted_and_the_next_run_opens_with_its_materials(
    laboratory: Laboratory, run: Run
) -> None:
    run = misfires.report_misfire(fired(run, laboratory), "wire off", by=laboratory.group)
    assert run.happenings.get().kind == Happening.Kind.NO_IGNITION
    assert run.fired_at is not None and run.cause == Run.Cause.MISFIRE
    following = misfires.open_again(run, by=laboratory.group)
    assert (following.kind, following.state) == (run.kind, Run.State.OPEN)
    lots = {key: Sheet(following).text(key) for key in ("standard_lot", "fuse_lot", "titrant_lot")}
    assert lots == {"standard_lot": "S1", "fuse_lot": "W1", "titrant_lot": "T1"}
    assert list(following.present.all()) == [laboratory.person]
    assert following.standard_lot == run.standard_lot
    assert "charge_gross_g" not in Sheet(following).current


def test_a_lot_out_of_use_is_not_carried_over(laboratory: Laboratory, run: Run) -> None:
    run = misfires.report_misfire(fired(run, laboratory), "", by=laboratory.group)
    run.titrant_lot.in_use = False
    run.titrant_lot.save()
    assert misfires.open_again(run, by=laboratory.group).titrant_lot is None


def test_only_a_run_set_aside_is_opened_again(laboratory: Laboratory, run: Run) -> None:
    with pytest.raises(Refused, match="only a run set aside"):
        misfires.open_again(run, by=laboratory.group)
    with pytest.raises(PermissionDenied):
        misfires.open_again(run, by=laboratory.stranger)


# An unknown and the value it rests on


def test_an_unknown_is_not_fired_on_a_withdrawn_or_lapsed_value(laboratory: Laboratory) -> None:
    run = ready_to_fire(unknown(laboratory), laboratory)
    run.rests_on.lapses_on = timezone.localdate() - timedelta(days=1)
    run.rests_on.save()
    with pytest.raises(Refused, match=r"The approval ended on .* standardize again"):
        runs.mark_fired(run, "300", by=laboratory.group)


def test_people_of_other_groups_do_not_tick(laboratory: Laboratory, run: Run) -> None:
    outsider = Person.objects.create(name="Cy Vale")
    with pytest.raises(Refused, match="not marked as present"):
        around_firing.tick_item(run, 0, outsider, by=laboratory.group)

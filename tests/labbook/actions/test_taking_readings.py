"""Readings: typed or from a file, struck out but never lost, folded without losing a detail."""

import numpy as np
import pytest
from django.core.exceptions import PermissionDenied

from labbook.actions import files, readings, runs, typed_readings
from labbook.actions.typed_readings import Sent
from labbook.intake import preview
from labbook.lookups.readings import as_written, readings_of
from labbook.models import LoggerFile, ReadingBlock, Run
from labbook.problems import Doubled, Refused

from ..conftest import (
    AFTER_FIRING,
    Laboratory,
    completed,
    curve,
    fill_in,
    fired,
    hand_in,
    put_forward,
    ready_to_fire,
)

SHORT = b"time_s,temperature_c\n0,20.0\n15,20.1\n30,20.2\n45,20.3\n"


@pytest.fixture
def run(laboratory: Laboratory) -> Run:
    return runs.open_standardization_run(laboratory.bench, by=laboratory.group)


def typed(run: Run, lab: Laboratory, rows: list[tuple[str, str]]) -> None:
    for time, temperature in rows:
        typed_readings.add_typed_reading(run, time, temperature, by=lab.group)


def kept(run: Run, content: bytes, lab: Laboratory, name: str = "run.csv") -> LoggerFile:
    return files.keep_file(run, name, content, by=lab.group)


def test_a_typed_reading_is_kept_as_typed(laboratory: Laboratory, run: Run) -> None:
    typed(run, laboratory, [("0:30", "23,1690"), ("-15", "23.10")])
    assert [(row.time, row.temperature) for row in as_written(run)] == [
        ("0:30", "23,1690"),
        ("-15", "23.10"),
    ]
    time, temperature = readings_of(run).kept()
    assert time.tolist() == [-15.0, 30.0] and temperature.tolist() == [23.10, 23.169]


@pytest.mark.parametrize(
    ("time", "temperature", "said", "field"),
    [
        ("half past", "23.1", "“half past” is not a number", "time"),
        ("5:75", "23.1", "“5:75” is not a time", "time"),
        ("", "23.1", "Nothing was typed", "time"),
        ("15", "warm", "“warm” is not a number", "temperature"),
        ("15", "", "Nothing was typed", "temperature"),
        ("15", "1,234", "did you mean 1.234 or 1234", "temperature"),
        ("15", "231.69", "from −10 to 60 °C was expected", "temperature"),
        ("15", "-10.01", "from −10 to 60 °C was expected", "temperature"),
        ("15", "9" * 30, "too long", "temperature"),
        ("1\x005", "23.1", "is not a number", "time"),
    ],
)
def test_a_reading_that_makes_no_sense_is_refused(
    laboratory: Laboratory, run: Run, time: str, temperature: str, said: str, field: str
) -> None:
    with pytest.raises(Refused) as refusal:
        typed_readings.add_typed_reading(run, time, temperature, by=laboratory.group)
    assert said in str(refusal.value)
    assert refusal.value.problems[0].field == field
    assert len(readings_of(run)) == 0


@pytest.mark.parametrize("text", ["23,169", "5,000", "60,000", "23,1690", "-5,5"])
def test_a_decimal_comma_is_read_where_only_one_reading_fits_a_bucket(
    laboratory: Laboratory, run: Run, text: str
) -> None:
    typed(run, laboratory, [("0", text)])
    assert readings_of(run).temperatures_c[0] == float(text.replace(",", "."))
    assert as_written(run)[0].temperature == text


def test_the_same_time_is_asked_about_unless_it_was_answered(
    laboratory: Laboratory, run: Run
) -> None:
    by = laboratory.group
    typed(run, laboratory, [("6:00", "23.100")])
    typed(run, laboratory, [("360", "23.10")])  # the same reading, however it was written
    with pytest.raises(Doubled) as asked:
        typed(run, laboratory, [("6:00", "23.105")])
    assert asked.value.standing.number == 1 and asked.value.yours == "23.105"
    both = Sent(beside=True)
    typed_readings.add_typed_reading(run, "6:00", "23.105", by=by, sent=both)
    mine = Sent(instead_of=1)
    with pytest.raises(Doubled):  # the other of the two still stands
        typed_readings.add_typed_reading(run, "6:00", "23.107", by=by, sent=mine)
    assert readings_of(run).struck.tolist() == [False, False]
    mine = Sent(instead_of=2)
    typed_readings.add_typed_reading(run, "6:30", "23.107", by=by, sent=mine)
    assert readings_of(run).struck.tolist() == [False, True, False]
    assert run.strikes.get().reason == "mistyped: read 23.107"


def test_a_correction_of_a_reading_reduces_again(laboratory: Laboratory, run: Run) -> None:
    fired(run, laboratory)
    rows = [line.split(",") for line in curve(interval_s=30).decode().split()[1:]]
    typed(run, laboratory, [(time, text) for time, text in rows])
    readings.strike_readings(run, 1, 1, "bumped", by=laboratory.group)
    run.refresh_from_db()
    before = run.result
    time, text = rows[-1]
    mine = Sent(instead_of=len(rows))
    later = f"{float(text) - 0.01:.4f}"
    typed_readings.add_typed_reading(run, time, later, by=laboratory.group, sent=mine)
    run.refresh_from_db()
    assert before is not None and run.result != before


def test_a_clock_far_from_any_run_is_not_set(laboratory: Laboratory, run: Run) -> None:
    typed(run, laboratory, [("9" * 20, "23.1")])
    run.refresh_from_db()
    assert run.clock_zero_at is None


def test_only_somebody_present_types_strikes_or_hands_in(laboratory: Laboratory, run: Run) -> None:
    absent, by = laboratory.person, laboratory.group
    with pytest.raises(Refused, match="not marked as present"):
        typed_readings.add_typed_reading(run, "0", "20", by=by, entered_by=absent)
    typed(run, laboratory, [("0", "20")])
    with pytest.raises(Refused, match="not marked as present"):
        readings.strike_readings(run, 1, 1, "slip", by=by, entered_by=absent)
    with pytest.raises(Refused, match="not marked as present"):
        files.use_file(kept(run, SHORT, laboratory), preview(SHORT), by=by, entered_by=absent)


def test_completing_folds_typed_readings_with_every_detail(
    laboratory: Laboratory, run: Run
) -> None:
    ready_to_fire(run, laboratory)
    rows = [line.split(",") for line in curve(interval_s=30).decode().split()[1:]]
    for time, temperature in rows:
        typed_readings.add_typed_reading(
            run, time, temperature, by=laboratory.group, entered_by=laboratory.person
        )
    before = [(b.first_number, b.read_details()[0]) for b in run.blocks.all()]
    readings.strike_readings(run, 3, 3, "mistyped", by=laboratory.group)
    runs.mark_fired(run, "300", by=laboratory.group)
    fill_in(run, AFTER_FIRING, laboratory.group)
    runs.complete_run(run, by=laboratory.group)

    block = run.blocks.get()
    assert block.count == len(rows) and block.numbers.tolist() == [n for n, _ in before]
    assert block.read_details() == [detail for _, detail in before]
    assert {detail["person"] for detail in block.read_details()} == {laboratory.person.pk}
    assert [[row.time, row.temperature] for row in as_written(run)] == rows
    assert [row.number for row in as_written(run) if row.strike] == [3]


def test_a_file_strikes_what_was_typed_before(laboratory: Laboratory, run: Run) -> None:
    typed(run, laboratory, [("0", "20.0"), ("15", "20.1")])
    hand_in(run, SHORT, laboratory.group)
    found = readings_of(run)
    assert found.struck.tolist() == [True, True, False, False, False, False]
    assert run.strikes.get().reason == "replaced by run.csv"
    assert found.numbers.tolist() == [1, 2, 3, 4, 5, 6]


def test_a_second_file_strikes_the_first(laboratory: Laboratory, run: Run) -> None:
    hand_in(run, SHORT, laboratory.group)
    readings.strike_readings(run, 2, 2, "bumped", by=laboratory.group)
    hand_in(run, SHORT.replace(b"20.3", b"20.4"), laboratory.group)
    reasons = {row.number: row.strike.reason for row in as_written(run) if row.strike}
    assert reasons[2] == "bumped" and set(reasons) == {1, 2, 3, 4}
    assert readings_of(run).kept_count == 4


def test_the_same_file_again_is_the_same_file(laboratory: Laboratory, run: Run) -> None:
    first = kept(run, SHORT, laboratory)
    assert kept(run, SHORT, laboratory, name="copy.csv") == first
    assert bytes(LoggerFile.objects.get().content) == SHORT


def test_using_a_file_twice_takes_its_readings_once(laboratory: Laboratory, run: Run) -> None:
    hand_in(run, SHORT, laboratory.group)
    hand_in(run, SHORT, laboratory.group)
    assert ReadingBlock.objects.count() == 1 and not run.strikes.exists()
    readings.strike_readings(run, 2, 2, "bumped", by=laboratory.group)
    hand_in(run, SHORT, laboratory.group)
    assert readings_of(run).kept_count == 4


def test_a_file_with_an_open_question_gives_no_readings(laboratory: Laboratory, run: Run) -> None:
    content = b"20.0,20.5\n21.0,20.6\n22.0,20.7\n23.0,20.8\n"
    understood = preview(content)
    assert understood.questions
    with pytest.raises(Refused, match="still leaves a question open"):
        files.use_file(kept(run, content, laboratory), understood, by=laboratory.group)
    assert not run.blocks.exists()


def test_striking_out_needs_a_reason_and_numbers_that_are_there(
    laboratory: Laboratory, run: Run
) -> None:
    typed(run, laboratory, [("0", "20.0"), ("15", "20.1")])
    with pytest.raises(Refused, match="Say why the reading is left out"):
        readings.strike_readings(run, 1, 1, " ", by=laboratory.group)
    for first, last in ((0, 1), (2, 1), (1, 3), (10**12, 10**12)):
        with pytest.raises(Refused, match="readings 1 to 2"):
            readings.strike_readings(run, first, last, "slip", by=laboratory.group)
    assert not run.strikes.exists()


def test_finished_runs_take_no_readings(laboratory: Laboratory, run: Run) -> None:
    completed(run, laboratory)
    with pytest.raises(Refused, match="no readings can be added"):
        typed(run, laboratory, [("0", "20.0")])
    with pytest.raises(Refused, match="no readings can be added"):
        kept(run, SHORT, laboratory)
    runs.sign_run(run, by=laboratory.assistant)
    with pytest.raises(Refused, match="its readings stay as they are"):
        readings.strike_readings(run, 1, 1, "late", by=laboratory.group)


def test_readings_of_a_set_put_forward_stay(laboratory: Laboratory) -> None:
    run = put_forward(laboratory).runs.get(replicate=1)
    with pytest.raises(Refused, match="is put forward, so its runs cannot change"):
        readings.strike_readings(run, 1, 1, "slip", by=laboratory.group)


@pytest.mark.parametrize("who", ["stranger", "other_assistant", "coordinator"])
def test_readings_are_taken_by_the_group_and_its_tas(
    laboratory: Laboratory, run: Run, who: str
) -> None:
    by = getattr(laboratory, who)
    with pytest.raises(PermissionDenied):
        typed_readings.add_typed_reading(run, "0", "20", by=by)
    with pytest.raises(PermissionDenied):
        files.keep_file(run, "run.csv", SHORT, by=by)
    with pytest.raises(PermissionDenied):
        readings.strike_readings(run, 1, 1, "x", by=by)


def test_readings_come_back_to_the_last_bit(laboratory: Laboratory, run: Run) -> None:
    fired(run, laboratory)
    hand_in(run, curve(), laboratory.group)
    rows = np.array([line.split(",") for line in curve().decode().split()[1:]], dtype=float)
    time, temperature = readings_of(run).kept()
    assert np.array_equal(time, rows[:, 0]) and np.array_equal(temperature, rows[:, 1])

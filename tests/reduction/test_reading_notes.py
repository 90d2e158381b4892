"""Slips of the pen, clocks, units and sensors: named with their figures, neighbours left alone."""

from typing import Any

import numpy as np
import pytest

from reduction import ReductionError, simulate
from reduction.inputs import RunInputs
from reduction.notes import Note, Thresholds
from reduction.reduce_run import reduce_run
from reduction.remarks.clock import clock_notes
from reduction.remarks.slips import Slip, find_slips, likely_typed, typed_decimals
from reduction.thermogram import Thermogram

from .conftest import RunFile

SOUND = simulate.Firing(cadence_s=10.0, noise_k=0.0005, resolution_k=0.001)
TIME_S, TEMPERATURE_C = simulate.thermogram(SOUND)
LIMITS = Thresholds()
ABOUT_CERTAINTY = {"certificate_basis", "readings_alike", "line_bias"}


@pytest.fixture
def found(standardization: RunFile) -> Any:
    """The notes on readings, by code; those every standardization gets left out."""

    def reduce(temperature_c: Any, time_s: Any = TIME_S, **fields: Any) -> dict[str, Note]:
        read = {"time_s": np.asarray(time_s).tolist()}
        read["temperature_c"] = np.asarray(temperature_c).tolist()
        run = standardization(**({"readings": read} | fields))
        notes = reduce_run(RunInputs.from_dict(run)).notes
        return {note.code: note for note in notes if note.code not in ABOUT_CERTAINTY}

    return reduce


def replaced(**values: float) -> np.ndarray:
    changed = TEMPERATURE_C.copy()
    for position, value in values.items():
        changed[int(position[1:])] = value
    return changed


def swapped(value: float, place: int) -> float:
    digits = f"{value:.3f}".replace(".", "")
    pair = digits[place + 1] + digits[place]
    return int(digits[:place] + pair + digits[place + 2 :]) / 1000.0


# Typing slips -----------------------------------------------------------------------------------


def test_a_reading_far_off_its_neighbours_is_named_with_its_distance(found: Any) -> None:
    note = found(replaced(r24=TEMPERATURE_C[24] + 12.1))["typing_slip"]
    assert "at 240 s stands 12.1 K above its neighbours" in note.sentence
    assert "Mistyped" in note.advice and note.severity == "W"


@pytest.mark.parametrize("position", [10, 29, 31, 32, 33, 40, 90])
@pytest.mark.parametrize("place", [0, 1])
def test_swapped_digits_are_put_back_wherever_the_curve_can_tell(
    found: Any, position: int, place: int
) -> None:
    true = TEMPERATURE_C[position]
    typed = swapped(true, place)
    if abs(typed - true) < 1.0:
        return
    note = found(replaced(**{f"r{position}": typed}))["typing_slip"]
    assert f"Reading {typed:.3f} at" in note.sentence
    assert f"Mistyped {true:.3f}?" in note.advice


def test_the_last_digits_swapped_stand_out_of_a_quiet_drift(found: Any) -> None:
    # 25.525 typed 25.552: 27 mK on a scatter of half a millikelvin.
    note = found(replaced(r90=25.552))["typing_slip"]
    assert "0.02" in note.sentence and "Mistyped 25.525?" in note.advice


def test_one_wrong_digit_is_put_right(found: Any) -> None:
    wrong = round(TEMPERATURE_C[60] + 4.0, 3)
    assert f"Mistyped {TEMPERATURE_C[60]:.3f}?" in found(replaced(r60=wrong))["typing_slip"].advice


@pytest.mark.parametrize("position", [0, 1, 119, 120])
def test_a_slip_at_the_ends_is_named_and_no_neighbour(found: Any, position: int) -> None:
    changed = replaced(**{f"r{position}": TEMPERATURE_C[position] + 5.0})
    slips = find_slips(Thermogram.of(TIME_S, changed), LIMITS)
    assert [slip.index for slip in slips] == [position]


def test_two_slips_in_a_row_do_not_hide_each_other() -> None:
    changed = replaced(r60=TEMPERATURE_C[60] + 1.0, r61=TEMPERATURE_C[61] + 1.1)
    slips = find_slips(Thermogram.of(TIME_S, changed), LIMITS)
    assert [slip.index for slip in slips] == [60, 61]


@pytest.mark.parametrize("off", [0.002, 0.01, -0.01])
def test_a_reading_within_reach_of_the_scatter_is_no_slip(found: Any, off: float) -> None:
    assert found(replaced(r90=TEMPERATURE_C[90] + off)) == {}


def test_many_slips_are_counted_not_listed(found: Any) -> None:
    changed = TEMPERATURE_C.copy()
    changed[[5, 12, 20, 70, 90]] += 0.5
    run = found(changed)
    assert (
        "2 more readings stand off their neighbours (700 s, 900 s)" in run["typing_slip"].sentence
    )


def test_readings_of_a_logger_are_compared_but_no_digits_guessed() -> None:
    noisy = np.linspace(25.0, 26.0, 50) + np.random.default_rng(1).normal(0.0, 0.001, 50)
    assert typed_decimals(noisy) is None
    assert typed_decimals(np.round(noisy, 2)) == 2


def test_of_two_swaps_that_fit_the_nearer_one_is_meant() -> None:
    assert likely_typed(23.619, 3, Slip(0, 0.45, 23.15, 23.19)) == "23.169"
    assert likely_typed(23.619, 3, Slip(0, 0.45, 11.0, 12.0)) is None


# Decimal marks ----------------------------------------------------------------------------------


@pytest.mark.parametrize("factor", [10.0, 0.1, 1000.0])
@pytest.mark.parametrize("position", [0, 24, 32, 100])
def test_a_moved_decimal_mark_is_put_back(found: Any, factor: float, position: int) -> None:
    true = TEMPERATURE_C[position]
    note = found(replaced(**{f"r{position}": true * factor}))["decimal_slip"]
    assert note.advice == f"Did you mean {true:.10g}?"


def test_three_moved_marks_in_a_row_are_all_named() -> None:
    changed = TEMPERATURE_C.copy()
    changed[24:27] *= 10.0
    slips = find_slips(Thermogram.of(TIME_S, changed), LIMITS)
    assert [slip.index for slip in slips] == [24, 25, 26]


def test_a_far_reading_that_no_power_of_ten_explains_is_a_typing_slip(found: Any) -> None:
    codes = set(found(replaced(r24=90.0)))
    assert "typing_slip" in codes and "decimal_slip" not in codes


# Clocks -----------------------------------------------------------------------------------------


def test_a_clock_that_jumps_back_is_named_with_its_place(found: Any) -> None:
    # Summer time ends at the 61st reading.
    time_s = TIME_S.copy()
    time_s[60:] -= 3600.0
    note = found(TEMPERATURE_C, time_s)["clock_back"]
    assert "The clock goes back 3600 s at reading 61, from 590 s to −3000 s" in note.sentence
    assert "continuing" in note.advice


def test_a_restarted_logger_is_told_from_a_clock_that_jumps(found: Any) -> None:
    time_s = TIME_S.copy()
    time_s[60:] -= time_s[60]
    run = found(TEMPERATURE_C, time_s)
    assert "restarted at reading 61: its time returns from 590 s to 0 s" in (
        run["logger_restarted"].sentence
    )
    assert set(run) <= {"logger_restarted", "no_rise"}


def test_numbers_of_readings_count_the_blank_slots() -> None:
    time_s = np.append(np.insert(TIME_S, 3, np.nan), TIME_S)
    assert "at reading 123" in clock_notes(time_s, LIMITS)[0].sentence


@pytest.mark.parametrize("late", [(50,), (50, 51)])
def test_a_reading_or_two_entered_late_are_no_jump(late: tuple[int, ...]) -> None:
    rest = [i for i in range(TIME_S.size) if i not in late]
    order = [*rest[:70], *late, *rest[70:]]
    assert clock_notes(TIME_S[order], LIMITS) == []


def test_the_same_time_twice_is_kept_and_named(found: Any) -> None:
    note = found(np.append(TEMPERATURE_C, TEMPERATURE_C[20]), np.append(TIME_S, TIME_S[20]))
    assert "at 200 s" in note["same_time_twice"].sentence
    assert "at 200 s and at 1 more times" in (
        clock_notes(np.append(TIME_S, TIME_S[[20, 30]]), LIMITS)[0].sentence
    )


# Sensors and units ------------------------------------------------------------------------------


@pytest.mark.parametrize(("begin", "seconds"), [(33, 40), (36, 70), (40, 60)])
def test_a_sensor_that_sticks_while_warming_is_named_with_how_long(
    found: Any, begin: int, seconds: int
) -> None:
    changed = TEMPERATURE_C.copy()
    changed[begin : begin + seconds // 10 + 1] = changed[begin]
    note = found(changed)["stuck_sensor"]
    assert f"repeated {changed[begin]:g} °C for {seconds} s from {10 * begin} s on" in note.sentence


def test_equal_readings_of_a_resting_bucket_are_no_stuck_sensor(found: Any) -> None:
    still = simulate.Firing(leak_per_s=0.0, cadence_s=10.0, resolution_k=0.01)
    assert found(simulate.thermogram(still)[1]) == {}


def test_four_equal_readings_are_not_enough(found: Any) -> None:
    changed = TEMPERATURE_C.copy()
    changed[36:40] = changed[36]
    assert "stuck_sensor" not in found(changed)


@pytest.mark.parametrize("hold", [30.0, 45.0, 60.0])
def test_a_temperature_that_moves_in_steps_asks_for_the_stirrer(found: Any, hold: float) -> None:
    held = np.interp(np.floor(TIME_S / hold) * hold, TIME_S, TEMPERATURE_C)
    run = found(np.where(TIME_S < 300.0, TEMPERATURE_C, held))
    assert "moves in steps" in run["stirrer_off"].sentence
    assert "stirrer" in run["stirrer_off"].advice


def test_a_scatter_that_changes_asks_for_the_stirrer(found: Any) -> None:
    noise = np.random.default_rng(1).normal(0.0, 0.01, TIME_S.size)
    note = found(TEMPERATURE_C + np.where(TIME_S > 320.0, noise, 0.0))["stirrer_off"]
    assert "in the fore and 9" in note.sentence


def test_a_scatter_twice_as_wide_is_left_alone(found: Any) -> None:
    noise = np.random.default_rng(1).normal(0.0, 0.001, TIME_S.size)
    assert found(TEMPERATURE_C + np.where(TIME_S > 320.0, noise, 0.0)) == {}


@pytest.mark.parametrize(
    ("convert", "unit"), [(lambda t: 1.8 * t + 32.0, "°F"), (lambda t: t + 273.15, "K")]
)
def test_another_unit_is_asked_about(found: Any, convert: Any, unit: str) -> None:
    note = found(convert(TEMPERATURE_C))["wrong_unit"]
    assert f"{unit}? Read so they are near 25.5 °C" in note.sentence and note.severity == "W"


def test_a_voltage_is_too_cold_for_a_bucket(found: Any) -> None:
    assert "voltage" in found(0.01 * TEMPERATURE_C)["wrong_unit"].sentence


@pytest.mark.parametrize(
    "convert",
    [
        # IEC 60751, platinum: R = R₀(1 + 3.9083·10⁻³ t − 5.775·10⁻⁷ t²).
        lambda t: 100.0 * (1.0 + 3.9083e-3 * t - 5.775e-7 * t**2),
        lambda t: 1000.0 * (1.0 + 3.9083e-3 * t - 5.775e-7 * t**2),
        lambda t: 1e4 * np.exp(3950.0 * (1.0 / (t + 273.15) - 1.0 / 298.15)),
        lambda t: np.round(1e5 * t),
    ],
)
def test_resistances_and_counts_are_no_temperature(found: Any, convert: Any) -> None:
    run = found(convert(TEMPERATURE_C))
    assert run["not_a_temperature"].severity == "B"
    assert "calibration" in run["not_a_temperature"].advice
    assert set(run) <= {"not_a_temperature", "no_rise"}


def test_without_a_mark_the_refusal_names_the_unit(standardization: RunFile) -> None:
    ohms = 10_780.0 - 0.01 * TIME_S
    read = {"time_s": TIME_S.tolist(), "temperature_c": ohms.tolist()}
    with pytest.raises(ReductionError, match="are not in °C"):
        reduce_run(RunInputs.from_dict(standardization(readings=read, fired_at_s=None)))


@pytest.mark.parametrize("level", [10.0, 40.0, 55.0])
def test_a_cool_or_a_warm_bucket_is_a_bucket(found: Any, level: float) -> None:
    assert found(TEMPERATURE_C - 25.0 + level) == {}

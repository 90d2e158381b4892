"""What goes wrong with readings and fields is said, with its figures, and changes no number."""

import dataclasses
from typing import Any

import pytest

from reduction import InputError, simulate
from reduction.curvature import after_curvature
from reduction.inputs import RunInputs
from reduction.notes import Thresholds
from reduction.reduce_run import reduce_run
from reduction.remarks.firing import clock_note
from reduction.thermogram import Periods, Thermogram

from .conftest import RunFile, readings

SOUND = simulate.Firing(cadence_s=10.0, noise_k=0.0005, resolution_k=0.001)


def notes(run: dict[str, Any], thresholds: Thresholds | None = None) -> dict[str, Any]:
    found = reduce_run(RunInputs.from_dict(run), thresholds).notes
    return {note.code: note for note in found}


def test_a_sound_run_is_only_asked_about_the_certificate(standardization: RunFile) -> None:
    assert set(notes(standardization(SOUND))) == {"certificate_basis"}


def test_no_ignition_is_told_from_a_fuse_that_burned_alone(standardization: RunFile) -> None:
    nothing = simulate.Firing(rise_k=0.0, noise_k=0.0005, convergence_c=23.0)
    wire = simulate.Firing(rise_k=0.02, noise_k=0.0005, convergence_c=23.0)
    found = notes(standardization(nothing))
    assert found["no_ignition"].severity == "B"
    assert "rose only 0.00" in found["no_ignition"].sentence
    assert "still counts as a firing" in found["no_ignition"].advice
    assert "fuse_only" in notes(standardization(wire))
    assert "no_ignition" in notes(standardization(wire, fuse=None))


@pytest.mark.parametrize("off", [-100.0, 60.0, 120.0])
def test_a_firing_mark_off_the_kink_is_asked_about(standardization: RunFile, off: float) -> None:
    found = notes(standardization(SOUND, fired_at_s=300.0 + off, settled_at_s=800.0))
    assert f"marked at {300 + off:g} s" in found["firing_time_off"].sentence
    assert "starts at 300 s" in found["firing_time_off"].sentence


@pytest.mark.parametrize("off", [-25.0, 25.0])
def test_a_firing_mark_near_the_kink_is_not(standardization: RunFile, off: float) -> None:
    assert "firing_time_off" not in notes(standardization(SOUND, fired_at_s=300.0 + off))


def test_noise_alone_does_not_hide_that_the_charge_did_not_light(standardization: RunFile) -> None:
    noisy = simulate.Firing(rise_k=0.0, cadence_s=5.0, noise_k=0.01, convergence_c=24.0)
    assert notes(standardization(noisy))["no_ignition"].severity == "B"


def test_a_warming_bucket_does_not_hide_that_the_charge_did_not_light(
    standardization: RunFile,
) -> None:
    # Without a charge the water warms by 5·10⁻⁵ · 8 K · 180 s = 0.07 K in 3 min all the same.
    drifting = simulate.Firing(rise_k=0.0, noise_k=0.0005, convergence_c=31.0, leak_per_s=5e-5)
    assert "no_ignition" in notes(standardization(drifting))


def test_a_small_charge_that_burned_is_not_taken_for_a_misfire(standardization: RunFile) -> None:
    small = simulate.Firing(rise_k=0.08, cadence_s=10.0, noise_k=0.0005)
    assert not {"no_ignition", "fuse_only"} & set(notes(standardization(small)))


def test_without_a_mark_the_kink_is_told(standardization: RunFile) -> None:
    found = notes(standardization(SOUND, fired_at_s=None))["firing_found"]
    assert "starts between 300 s and 310 s" in found.sentence and found.severity == "N"
    assert "firing_found" not in notes(standardization(SOUND))


@pytest.mark.parametrize(("off", "way"), [(48.0, "behind"), (-38.0, "ahead of")])
def test_a_mark_by_another_clock_asks_which_clock_to_use(
    standardization: RunFile, off: float, way: str
) -> None:
    # The kink lies between 300 s and 310 s.
    run = standardization(SOUND, fired_at_s=300.0 + off, fired_by_clock="pc", settled_at_s=800.0)
    found = notes(run)
    assert found["two_clocks"].sentence == (f"The readings' clock seems 43 s {way} this PC.")
    assert "firing_time_off" not in found and "kink or the mark" in found["two_clocks"].advice


@pytest.mark.parametrize("off", [-8.0, 8.0, 12.0])
def test_two_clocks_that_agree_are_no_matter(standardization: RunFile, off: float) -> None:
    run = standardization(SOUND, fired_at_s=300.0 + off, fired_by_clock="watch")
    assert "two_clocks" not in notes(run)


def test_the_same_offset_in_every_run_is_a_clock_different_ones_are_late_hands() -> None:
    found = clock_note([43.0, 41.0, 45.0], Thresholds())
    assert found is not None and "43 s behind" in found.sentence
    assert clock_note([43.0, 12.0, 75.0], Thresholds()) is None
    assert clock_note([1.0, 0.0, 2.0], Thresholds()) is None
    assert clock_note([43.0], Thresholds()) is None


def test_two_firings_in_one_curve_are_both_named(standardization: RunFile) -> None:
    later = dataclasses.replace(SOUND, start_s=1300.0, fired_at_s=2400.0, end_s=3300.0, seed=1)
    first, second = readings(SOUND), readings(later)
    both = {key: first[key] + second[key] for key in first}
    found = notes(standardization(readings=both))["two_firings"]
    assert "2 firings found (300 s, 2400 s)" in found.sentence
    bounded = standardization(readings=both, after_until_s=1250.0)
    assert "two_firings" not in notes(bounded)


def test_a_second_rise_too_small_for_a_firing_is_not_one(standardization: RunFile) -> None:
    run = standardization(SOUND)["readings"]
    lamp = [y + 0.1 * (t > 900.0) for t, y in zip(run["time_s"], run["temperature_c"], strict=True)]
    assert "two_firings" not in notes(standardization(readings=run | {"temperature_c": lamp}))


def test_a_short_fore_period_is_named_with_its_length(standardization: RunFile) -> None:
    found = notes(standardization(SOUND, fore_from_s=200.0))
    assert "11 readings over 100 s" in found["fore_period_short"].sentence


@pytest.mark.parametrize("off", [0.03, -0.03])
def test_a_fore_period_whose_slope_changes_is_named(standardization: RunFile, off: float) -> None:
    run = standardization(SOUND)["readings"]
    bent = [
        y + off * max(150.0 - t, 0.0) / 150.0
        for t, y in zip(run["time_s"], run["temperature_c"], strict=True)
    ]
    found = notes(standardization(readings=run | {"temperature_c": bent}))
    assert "slope of the fore period changes" in found["fore_period_unsteady"].sentence
    later = standardization(readings=run | {"temperature_c": bent}, fore_from_s=150.0)
    assert "fore_period_unsteady" not in notes(later)


def test_a_steep_but_straight_fore_period_is_steady(standardization: RunFile) -> None:
    steep = dataclasses.replace(SOUND, convergence_c=31.0, leak_per_s=5e-5)
    assert "fore_period_unsteady" not in notes(standardization(steep))


def test_a_short_after_period_is_named_with_its_length(standardization: RunFile) -> None:
    found = notes(standardization(SOUND, settled_at_s=1150.0))
    assert "6 readings over 50 s" in found["after_period_short"].sentence


@pytest.mark.parametrize("noise", [0.0, 0.0005])
def test_a_main_period_that_ends_too_early_is_seen(standardization: RunFile, noise: float) -> None:
    # The exact curve of true rise 2.5 K ended at 10 min in place of 13 min.
    firing = simulate.Firing(noise_k=noise)
    early = notes(standardization(firing, settled_at_s=600.0 - 100.0 * (noise > 0)))
    assert "end the main period later" in early["after_period_curved"].advice
    assert "after_period_curved" not in notes(standardization(firing, settled_at_s=780.0))


def test_an_approach_that_is_not_over_is_seen_in_its_pace_where_noise_hides_the_bend(
    standardization: RunFile,
) -> None:
    # At 615 s e^(−7.5), 0.06 %, of the rise is still to come.
    firing = simulate.Firing(noise_k=0.0005)
    thermogram = Thermogram.of(*simulate.thermogram(firing))
    bounds = Periods(0.0, 300.0, 615.0, 1200.0)
    assert not after_curvature(thermogram, bounds, Thresholds())[1]
    found = notes(standardization(firing, settled_at_s=615.0))
    assert "the approach ends at about" in found["after_period_curved"].sentence


def test_a_slow_approach_asks_for_the_stirrer(standardization: RunFile) -> None:
    slow = simulate.Firing(release_s=(150.0,), end_s=3000.0)
    assert "7.5 min" in notes(standardization(slow))["slow_approach"].sentence


def test_a_quick_approach_is_not_asked_about(standardization: RunFile) -> None:
    # −ln 0.05 · 110 s = 5.5 min (calculus).
    quick = simulate.Firing(release_s=(110.0,), end_s=2400.0)
    assert "slow_approach" not in notes(standardization(quick))


@pytest.mark.parametrize(
    "cadence", [((60.0, 300.0), (15.0, 480.0), (60.0, 1200.0)), ((15.0, 360.0), (60.0, 1200.0))]
)
def test_another_interval_from_here_on_is_no_gap(standardization: RunFile, cadence: Any) -> None:
    assert "gap" not in notes(standardization(dataclasses.replace(SOUND, cadence_s=cadence)))


def test_a_gap_in_the_main_period_is_named(standardization: RunFile) -> None:
    run = standardization(SOUND)
    kept = [i for i, t in enumerate(run["readings"]["time_s"]) if not 330 < t < 435]
    run["readings"] = {key: [value[i] for i in kept] for key, value in run["readings"].items()}
    assert "from 330 s to 440 s" in notes(run)["gap"].sentence


def test_coarse_readings_say_what_they_can_give(standardization: RunFile) -> None:
    # Two rounded ends on a rise of 2.6 K: 0.1 K·√2/√12/2.6 K = 1.6 %, twice that at 95 %.
    coarse = simulate.Firing(rise_k=2.6, cadence_s=10.0, noise_k=0.02, resolution_k=0.1)
    found = notes(standardization(coarse))["coarse_resolution"]
    assert "step by 0.1 K" in found.sentence and "about 3 %" in found.sentence
    assert found.severity == "N"


def test_other_bucket_water_is_named_with_its_size(standardization: RunFile) -> None:
    # 50 g · 4.18 J/(g K) = 0.209 kJ/K.
    found = notes(standardization(SOUND, bucket_water_g=1950.0))["other_bucket_water"]
    assert "Water 1950 g, this bench uses 2000 g" in found.sentence
    assert "is corrected by −0.209 kJ/K (2.0 %)" in found.sentence
    assert "other_bucket_water" not in notes(standardization(SOUND, bucket_water_g=1996.0))


@pytest.mark.parametrize(("field", "code"), [("fuse", "wire_missing"), ("acid", "titre_missing")])
def test_missing_wire_or_titre_is_asked_about_unless_left_out_by_the_course(
    standardization: RunFile, field: str, code: str
) -> None:
    assert code in notes(standardization(SOUND, **{field: None}))
    left_out = {"corrections": {field: False}}
    assert code not in notes(standardization(SOUND, method=left_out, **{field: None}))


def test_a_certificate_in_vacuum_shows_the_factor(standardization: RunFile) -> None:
    # 1.00076 for benzoic acid of 1.320 g/cm³ against weights of 8.0 g/cm³.
    applied = notes(standardization(SOUND))["certificate_basis"]
    assert "1.00076 is applied" in applied.sentence and applied.severity == "N"
    run = standardization(SOUND, method={"corrections": {"buoyancy": False}})
    off = notes(run)["certificate_basis"]
    assert "1.00076 is not applied" in off.sentence and off.severity == "W"
    bare = notes(standardization(SOUND, standard={"j_per_g": 26434.0}))["certificate_basis"]
    assert "no factor" in bare.sentence and bare.severity == "W"
    in_air = standardization(SOUND, standard={"j_per_g": 26454.1, "basis": "air"})
    assert "certificate_basis" not in notes(in_air)


@pytest.mark.parametrize(
    ("after", "sentence"),
    [
        # 393.51 kJ/mol over 12.011 g/mol is 32.8 J/mg; 1 g of benzoic acid gives 26.4 kJ.
        ({"soot": "much"}, "Soot was seen. 1 mg of carbon left lowers the heat by 0.12 %."),
        ({"residue_mg": 3.0}, "3 mg of residue was left. 3 mg of carbon left lowers the heat by "),
        ({"soot": "much", "residue_mg": 2.0}, "Soot was seen; 2 mg of residue was left."),
        ({"soot": "trace", "residue_mg": 1.1}, "1.1 mg of residue was left."),
    ],
)
def test_soot_or_residue_is_named_with_its_effect(
    standardization: RunFile, after: dict[str, Any], sentence: str
) -> None:
    found = notes(standardization(SOUND, after=after))["unburned"]
    assert found.sentence.startswith(sentence) and found.severity == "W"


@pytest.mark.parametrize(
    "after", [{}, {"soot": "none"}, {"soot": "trace", "residue_mg": 1.0}, {"residue_mg": 0.0}]
)
def test_a_trace_of_soot_is_left_alone(standardization: RunFile, after: dict[str, Any]) -> None:
    assert "unburned" not in notes(standardization(SOUND, after=after))


def test_more_wire_left_than_there_was_gives_the_rise_but_no_result(
    standardization: RunFile,
) -> None:
    run = standardization(SOUND, fuse={"basis": "J/cm", "value": 9.6, "used": -0.4})
    found = notes(run)["more_wire_left"]
    assert found.severity == "B" and "by 0.4 cm" in found.sentence
    result = reduce_run(RunInputs.from_dict(run))
    assert result.heat_capacity is None and result.heat["fuse_j"] is None
    assert result.rise_used["rise_k"] == pytest.approx(2.5, rel=1e-3)
    run["fuse"]["used"] = 0.0
    assert "more_wire_left" not in notes(run)


@pytest.mark.parametrize("formula", ["C6H5Cl", "c10h8", "CO2"])
def test_a_formula_that_does_not_balance_leaves_the_energy_per_gram(
    unknown: RunFile, formula: str
) -> None:
    run = unknown(SOUND, substance={"name": "?", "formula": formula})
    found = notes(run)["formula"]
    assert found.severity == "B" and formula in found.sentence
    combustion = reduce_run(RunInputs.from_dict(run)).combustion
    assert combustion is not None and set(combustion) == {"du_j_per_g"}


def test_thresholds_are_settings(standardization: RunFile) -> None:
    strict = Thresholds(water_g=0.5, fore_s=600.0)
    found = notes(standardization(SOUND, bucket_water_g=2001.0), strict)
    assert {"other_bucket_water", "fore_period_short"} <= set(found)


def test_thresholds_are_read_from_a_dictionary_over_their_defaults() -> None:
    read = Thresholds.from_dict({"water_g": 0.5, "stuck_readings": 8.0})
    assert read == Thresholds(water_g=0.5, stuck_readings=8)
    assert Thresholds.from_dict({}) == Thresholds()


@pytest.mark.parametrize(
    ("data", "complaint"),
    [
        ({"water": 1.0}, "thresholds.water: is not a known key"),
        ({"water_g": "5"}, "thresholds.water_g: '5' is not a number"),
        ({"water_g": -5.0}, "thresholds.water_g: -5 cannot be used"),
        ({"gap_intervals": float("nan")}, "thresholds.gap_intervals: nan cannot be used"),
        ({"stuck_readings": 5.5}, "5.5 is not a whole number"),
        ({"rating_readings": 1}, "of 2 or more"),
        ([5.0], "thresholds: expected an object"),
        ({"coldest_c": 70.0}, "70 °C is not below warmest_c, 60 °C"),
    ],
)
def test_a_bad_threshold_is_refused_by_name(data: object, complaint: str) -> None:
    with pytest.raises(InputError, match=complaint):
        Thresholds.from_dict(data)


def test_every_threshold_says_what_it_decides_in_which_unit() -> None:
    described = Thresholds.described()
    assert len(described) > 25
    assert all(setting["unit"] and setting["words"] for setting in described)


def test_a_note_changes_no_number(standardization: RunFile) -> None:
    run = standardization(SOUND)
    run["readings"] = readings(SOUND)
    silent = Thresholds(ignition_k=0.0, rating_readings=2, fore_s=0.0, water_g=1e9)
    loud = Thresholds(ignition_k=10.0, fore_s=1e4, water_g=0.0, slow_approach_s=1.0)
    one, other = (
        reduce_run(RunInputs.from_dict(run | {"settled_at_s": 800.0}), limits).as_dict()
        for limits in (silent, loud)
    )
    assert one.pop("notes") != other.pop("notes")
    assert one == other

"""What goes wrong with readings and fields is said, with its figures, and changes no number."""

from typing import Any

import pytest

from reduction import simulate
from reduction.curvature import after_curvature
from reduction.inputs import RunInputs
from reduction.notes import Thresholds
from reduction.reduce_run import reduce_run
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


def test_a_short_fore_period_is_named_with_its_length(standardization: RunFile) -> None:
    found = notes(standardization(SOUND, fore_from_s=200.0))
    assert "11 readings over 100 s" in found["fore_period_short"].sentence


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


def test_a_gap_in_the_main_period_is_named(standardization: RunFile) -> None:
    run = standardization(SOUND)
    kept = [i for i, t in enumerate(run["readings"]["time_s"]) if not 330 < t < 435]
    run["readings"] = {key: [value[i] for i in kept] for key, value in run["readings"].items()}
    assert "from 330 s to 440 s" in notes(run)["gap"].sentence


def test_the_same_time_twice_is_kept_and_named(standardization: RunFile) -> None:
    run = standardization(SOUND)
    run["readings"] = {key: [*value, value[20]] for key, value in run["readings"].items()}
    assert "at 200 s" in notes(run)["same_time_twice"].sentence


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
    sentence = notes(standardization(SOUND))["certificate_basis"].sentence
    assert "1.00076 is applied" in sentence
    off = standardization(SOUND, method={"corrections": {"buoyancy": False}})
    assert "1.00076 is not applied" in notes(off)["certificate_basis"].sentence
    bare = standardization(SOUND, standard={"j_per_g": 26434.0})
    assert "no factor" in notes(bare)["certificate_basis"].sentence


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

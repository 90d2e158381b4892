"""The one door: from a run file to every number of the run page."""

import json
from typing import Any

import numpy as np
import pytest

import reduction
from reduction import ReductionError, simulate
from reduction.inputs import Readings, RunInputs
from reduction.reduce_run import reduce_run

from .conftest import FIXTURES, RunFile


def reduce(run: dict[str, Any]) -> dict[str, Any]:
    return reduce_run(RunInputs.from_dict(run)).as_dict()


def codes(result: dict[str, Any]) -> list[str]:
    return [note["code"] for note in result["notes"]]


def correction(result: dict[str, Any], name: str) -> dict[str, Any]:
    return next(item for item in result["corrections"] if item["name"] == name)


def test_a_standardization_gives_the_heat_capacity_it_was_simulated_with(
    standardization: RunFile,
) -> None:
    # 26 454.1 J/g in air (certificate 26 434 J/g, SRM 39j) · 1 g + wire 73.92 J + acid 34.71 J,
    # over the true rise of 2.5 K.
    result = reduce(standardization())
    expected = (26454.1 + 9.6 * 7.7 + 8.2 * 0.0709 * 59.7) / 2.5
    assert result["heat_capacity"]["j_per_k"] == pytest.approx(expected, rel=1e-4)
    assert result["heat"]["charge_j"] == pytest.approx(26454.1, abs=0.05)
    assert result["heat"]["total_j"] == pytest.approx(2.5 * expected, rel=1e-5)
    assert result["combustion"] is None


def test_an_unknown_gives_energy_enthalpy_and_formation(unknown: RunFile) -> None:
    # By hand: (10 000 J/K · 2.5 K − 108.63 J)/1 g, M = 128.174, Δn·R·T = −4.958 kJ/mol.
    result = reduce(unknown())["combustion"]
    du = -(25000.0 - 108.63)
    assert result["du_j_per_g"] == pytest.approx(du, rel=1e-4)
    assert result["dcu_kj_per_mol"] == pytest.approx(128.174 * du / 1000.0, rel=1e-4)
    difference = result["dch_kj_per_mol"] - result["dcu_kj_per_mol"]
    assert difference == pytest.approx(-4.958, abs=0.001)
    products = 10 * -393.51 + 4 * -285.83
    assert result["dfh_kj_per_mol"] == pytest.approx(products - result["dch_kj_per_mol"])
    assert result["equation"].startswith("C10H8(s) + 12 O2(g)")
    assert result["literature"] is None


def test_a_hidden_substance_gives_joules_per_gram_only(unknown: RunFile) -> None:
    result = reduce(unknown(substance=None))
    assert set(result["combustion"]) == {"du_j_per_g"}
    text = json.dumps(result)
    assert "standard_state" not in text and "formation" not in text


def test_literature_stands_beside_the_result(unknown: RunFile) -> None:
    # Coleman and Pilcher 1966.
    paper = {"dch_kj_per_mol": -5156.15, "u": 0.92, "citation": "Coleman and Pilcher 1966"}
    substance = {"name": "naphthalene", "formula": "C10H8", "literature": paper}
    result = reduce(unknown(substance=substance))["combustion"]
    expected = 100.0 * (result["dch_kj_per_mol"] / -5156.15 - 1.0)
    assert result["literature"] == paper | {"difference_percent": pytest.approx(expected)}


def test_bucket_water_moves_c_to_nominal_and_back(
    standardization: RunFile, unknown: RunFile
) -> None:
    capacity = reduce(standardization(bucket_water_g=1950.0))["heat_capacity"]
    moved = capacity["at_nominal_water_j_per_k"] - capacity["j_per_k"]
    assert moved == pytest.approx(209.0, abs=0.1)
    back = reduce(unknown(bucket_water_g=1950.0))["heat_capacity"]
    assert back["at_nominal_water_j_per_k"] == 10000.0
    assert back["j_per_k"] == pytest.approx(10000.0 - 209.0, abs=0.1)


def test_a_certificate_on_mass_in_air_needs_no_buoyancy(standardization: RunFile) -> None:
    result = reduce(standardization(standard={"j_per_g": 26454.1, "basis": "air"}))
    assert result["heat"]["charge_j"] == pytest.approx(26454.1)
    assert "certificate_basis" not in codes(result)


@pytest.mark.parametrize("name", ["fuse", "acid", "buoyancy", "bucket_water", "conditions"])
def test_a_correction_that_is_off_keeps_its_size_but_moves_nothing(
    standardization: RunFile, name: str
) -> None:
    def with_it(on: bool) -> dict[str, Any]:
        run = standardization(bucket_water_g=1990.0, method={"corrections": {name: on}})
        return reduce(run)

    on, off = with_it(True), with_it(False)
    assert correction(on, name)["applied"] and not correction(off, name)["applied"]
    sizes = correction(off, name)["size_percent"], correction(on, name)["size_percent"]
    assert sizes[0] == pytest.approx(sizes[1], rel=0.01) and sizes[0] != 0
    key = "at_nominal_water_j_per_k"
    assert on["heat_capacity"][key] != off["heat_capacity"][key]


def test_the_standard_state_is_an_estimate_and_off_unless_asked_for(unknown: RunFile) -> None:
    plain = reduce(unknown())
    asked = reduce(unknown(method={"corrections": {"standard_state": True}}))
    size = correction(plain, "standard_state")
    assert not size["applied"] and "estimate" in size["words"] and size["size_percent"] < 0
    ratio = asked["combustion"]["dcu_kj_per_mol"] / plain["combustion"]["dcu_kj_per_mol"]
    assert ratio == pytest.approx(size["factor"])
    assert asked["combustion"]["du_j_per_g"] == plain["combustion"]["du_j_per_g"]


def test_the_density_of_a_known_substance_brings_its_mass_to_vacuum(unknown: RunFile) -> None:
    substance = {"name": "naphthalene", "formula": "C10H8", "density_g_per_cm3": 1.16}
    dense, plain = reduce(unknown(substance=substance)), reduce(unknown())
    ratio = plain["combustion"]["du_j_per_g"] / dense["combustion"]["du_j_per_g"]
    assert ratio == pytest.approx((1 - 0.0012 / 8.0) / (1 - 0.0012 / 1.16))


def test_every_method_is_given_with_its_crossing(standardization: RunFile) -> None:
    rises = reduce(standardization())["rise"]
    for name in ("fraction", "fraction_060", "fraction_by_hand", "equal_areas"):
        assert rises[name]["rise_k"] == pytest.approx(2.5, rel=3e-4)
        assert rises[name]["at_s"] == pytest.approx(341.0, abs=3.0)
    assert rises["regnault_pfaundler"]["rise_k"] == pytest.approx(2.5, rel=1e-4)
    assert rises["heat_balance"]["rise_k"] == pytest.approx(2.5, rel=1e-6)
    assert rises["heat_balance"]["leak_per_s"] == pytest.approx(0.002 / 60, rel=1e-4)
    assert "adiabatic jacket only" in rises["difference"]["why"]


@pytest.mark.parametrize("method", ["fraction_060", "heat_balance", "difference"])
def test_the_course_chooses_the_rise_that_is_used(standardization: RunFile, method: str) -> None:
    result = reduce(standardization(method={"rise": method}))
    chosen = {key: result["rise"][method][key] for key in ("rise_k", "u_k", "dof")}
    assert result["rise_used"] == {"method": method} | chosen


def test_drift_lines_are_given_at_their_own_mean(standardization: RunFile) -> None:
    # The fore drift of the exact curve: k·(25.40 − T) at the middle of the fore period.
    fore = reduce(standardization())["drift"]["fore"]
    assert fore["at_s"] == 150.0 and fore["n"] == 21
    assert fore["slope_k_per_s"] == pytest.approx(0.002 / 60 * (25.40 - fore["at_c"]), rel=1e-3)


def test_95_percent_of_an_exponential_comes_after_three_time_constants(
    standardization: RunFile,
) -> None:
    # −ln 0.05 = 2.9957 (calculus).
    result = reduce(standardization(simulate.Firing(leak_per_s=0.0, cadence_s=5.0)))
    assert result["time_to_95_percent_s"] == pytest.approx(2.9957 * 42.0, rel=1e-3)


def test_without_an_after_period_only_the_heat_balance_gives_a_rise(
    standardization: RunFile,
) -> None:
    firing = simulate.Firing(end_s=470.0, cadence_s=5.0, noise_k=0.0002)
    result = reduce(standardization(firing, method={"rise": "heat_balance"}))
    assert result["periods"]["settled_at_s"] is None
    assert result["rise"]["regnault_pfaundler"]["rise_k"] is None
    assert "no after period" in result["rise"]["regnault_pfaundler"]["why"]
    assert result["rise"]["heat_balance"]["rise_k"] == pytest.approx(2.5, rel=5e-3)
    assert result["heat_capacity"] is not None
    assert "no_after_period" in codes(result) and result["drift"]["after"]["n"] == 0


@pytest.mark.parametrize("bounds", [{"settled_at_s": 9e3}, {"after_until_s": 500.0}])
def test_bounds_that_leave_no_after_period_leave_the_heat_balance(
    standardization: RunFile, bounds: dict[str, float]
) -> None:
    result = reduce(standardization(simulate.Firing(cadence_s=5.0), **bounds))
    assert result["rise"]["equal_areas"]["rise_k"] is None
    assert result["rise"]["heat_balance"]["rise_k"] == pytest.approx(2.5, rel=1e-3)


def test_a_chosen_method_without_a_rise_gives_no_result_and_says_so(
    standardization: RunFile,
) -> None:
    result = reduce(standardization(simulate.Firing(end_s=470.0, cadence_s=5.0)))
    nothing = {"rise_k": None, "u_k": None, "dof": None}
    assert result["rise_used"] == {"method": "regnault_pfaundler"} | nothing
    assert result["budget"] == {}
    assert result["heat_capacity"] is None and "no_rise" in codes(result)


@pytest.mark.parametrize("field", ["charge_g", "standard"])
def test_a_missing_field_leaves_the_rise_and_names_itself(
    standardization: RunFile, field: str
) -> None:
    result = reduce(standardization(**{field: None}))
    assert result["rise_used"]["rise_k"] == pytest.approx(2.5, rel=1e-4)
    assert result["heat_capacity"] is None and result["heat"]["charge_j"] is None
    notes = [note["sentence"] for note in result["notes"] if note["code"] == "missing_field"]
    assert len(notes) == 1 and notes[0].startswith(field)


def test_an_unknown_without_an_approved_heat_capacity_has_no_result(unknown: RunFile) -> None:
    result = reduce(unknown(heat_capacity=None))
    assert result["combustion"] is None and "missing_field" in codes(result)


def test_a_practice_run_goes_as_far_as_its_fields(
    standardization: RunFile, unknown: RunFile
) -> None:
    assert reduce(standardization(kind="practice"))["heat_capacity"] is not None
    assert reduce(unknown(kind="practice"))["combustion"] is not None
    bare = reduce(standardization(kind="practice", standard=None, charge_g=None))
    assert bare["heat_capacity"] is None and "missing_field" not in codes(bare)


def test_a_blank_gives_its_rise_and_heats_only(standardization: RunFile) -> None:
    result = reduce(standardization(kind="blank"))
    assert result["heat_capacity"] is None and result["combustion"] is None
    assert result["heat"]["fuse_j"] == pytest.approx(73.92)


def test_every_constant_of_a_result_has_unit_and_source(unknown: RunFile) -> None:
    constants = reduce(unknown())["constants"]
    assert {"heat capacity of the bench", "fuse wire", "gas constant R"} <= {
        constant["name"] for constant in constants
    }
    assert all(constant["unit"] and constant["source"] for constant in constants)


def test_the_result_is_plain_json_with_the_version(standardization: RunFile) -> None:
    result = reduce(standardization())
    assert json.loads(json.dumps(result, allow_nan=False)) == result
    assert result["version"] == reduction.__version__


@pytest.mark.parametrize("fired", [-50.0, 5000.0])
def test_a_firing_outside_the_readings_is_refused(standardization: RunFile, fired: float) -> None:
    with pytest.raises(ReductionError, match="Check the firing moment"):
        reduce(standardization(fired_at_s=fired))


def test_readings_without_a_number_are_refused(standardization: RunFile) -> None:
    inputs = RunInputs.from_dict(standardization())
    blank = Readings(inputs.readings.time_s, np.full_like(inputs.readings.time_s, np.nan))
    with pytest.raises(ReductionError, match="0 usable readings"):
        reduce_run(RunInputs("standardization", blank))


def test_the_example_run_gives_the_rise_it_was_simulated_with() -> None:
    # Simulated with a true rise of 2.5718 K and noise of 0.6 mK.
    path = FIXTURES / "example_run.json"
    inputs = RunInputs.from_dict(json.loads(path.read_text()), base_dir=path.parent)
    result = reduce_run(inputs).as_dict()
    assert result["rise_used"]["rise_k"] == pytest.approx(2.5718, rel=5e-4)
    assert codes(result) == ["certificate_basis"]

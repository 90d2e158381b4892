"""Every correction: its own figure, its size when off, and both ways of giving one thing."""

from typing import Any

import pytest

from reduction import simulate
from reduction.energy import Correction
from reduction.inputs import RunInputs
from reduction.reduce_run import Reduction, reduce_run

from .conftest import RunFile

LITERATURE = {
    # NIST Chemistry WebBook, 1969 value.
    "dch_kj_per_mol": -3226.87,
    "u_kj_per_mol": 0.18,
    "formula": "C7H6O2",
    "citation": "NIST Chemistry WebBook, 1969",
    "density_g_per_cm3": 1.320,
}


def reduce(run: dict[str, Any]) -> Reduction:
    return reduce_run(RunInputs.from_dict(run))


def correction(result: Reduction, name: str) -> Correction:
    return next(item for item in result.corrections if item.name == name)


def by_volume(standardization: RunFile, volume_ml: float, celsius: float) -> dict[str, Any]:
    run = standardization(bucket_water={"volume_ml": volume_ml, "temperature_c": celsius})
    return run | {"bucket_water_g": None}


def test_bucket_water_by_volume_is_its_mass(standardization: RunFile) -> None:
    # 2000 mL · 0.997541 g/mL (CoolProp, IAPWS-95, 23 °C) = 1995.08 g.
    run = by_volume(standardization, 2000.0, 23.0)
    assert RunInputs.from_dict(run).bucket_water_g == pytest.approx(1995.08, abs=0.01)
    volume = reduce(run)
    weighed = reduce(standardization(bucket_water_g=RunInputs.from_dict(run).bucket_water_g))
    assert volume.heat_capacity == weighed.heat_capacity
    assert "2000 mL at 23 °C, 0.99754 g/mL" in correction(volume, "bucket_water").words


def test_a_run_file_with_water_by_volume_is_given_back(standardization: RunFile) -> None:
    inputs = RunInputs.from_dict(by_volume(standardization, 2000.0, 23.0))
    assert RunInputs.from_dict(inputs.as_dict()).as_dict() == inputs.as_dict()


def test_warm_water_of_the_same_volume_is_less_water(standardization: RunFile) -> None:
    cold, warm = (
        reduce(by_volume(standardization, 2000.0, celsius)).heat_capacity for celsius in (20, 30)
    )
    # 2000 mL · (0.998207 − 0.995649) g/mL · 4.181 J/(g K) = 21.4 J/K (CoolProp).
    assert cold is not None and warm is not None
    moved = warm["at_nominal_water_j_per_k"] - cold["at_nominal_water_j_per_k"]
    assert moved == pytest.approx(21.4, abs=0.1)


def test_a_literature_value_stands_in_for_a_certificate(standardization: RunFile) -> None:
    # Δ_cU = −3226.87 + 1.239 = −3225.63 kJ/mol, over 122.123 g/mol: 26 413.0 J/g by hand.
    result = reduce(standardization(standard=LITERATURE))
    in_air = (1.0 - 0.0012 / 8.0) / (1.0 - 0.0012 / 1.320)
    assert result.heat["charge_j"] == pytest.approx(26413.0 * in_air, abs=0.3)
    listed = {constant.name: constant for constant in result.constants}
    published = listed["benzoic acid, Δ_cH"]
    assert (published.value, published.source) == (-3226.87, "NIST Chemistry WebBook, 1969")
    converted = listed["benzoic acid, heat of combustion"]
    assert converted.value == pytest.approx(26413.0, abs=0.3)
    assert "Δ_cH − Δn·R·T" in converted.source and "gas constant R" in listed


def test_a_literature_uncertainty_is_brought_to_the_gram(standardization: RunFile) -> None:
    standard = RunInputs.from_dict(standardization(standard=LITERATURE)).standard
    assert standard is not None
    assert standard.u_j_per_g == pytest.approx(180.0 / 122.123, rel=1e-4)
    assert RunInputs.from_dict(standardization(standard=LITERATURE)).as_dict() == (
        RunInputs.from_dict(
            RunInputs.from_dict(standardization(standard=LITERATURE)).as_dict()
        ).as_dict()
    )


def test_a_literature_energy_needs_no_gas_term(standardization: RunFile) -> None:
    energy = {key: value for key, value in LITERATURE.items() if key != "dch_kj_per_mol"}
    result = reduce(standardization(standard=energy | {"dcu_kj_per_mol": -3225.63}))
    assert result.heat["charge_j"] == pytest.approx(26413.0 * 1.00076, abs=0.5)
    assert "benzoic acid, Δ_cU" in {constant.name for constant in result.constants}


def test_a_literature_value_comes_to_the_bomb_by_the_labelled_estimate(
    standardization: RunFile,
) -> None:
    # Certified in the bomb 26 434 J/g, at the standard state 26 413.7 (from memory): 0.077 %;
    # Washburn's approximate formula (from memory) gives 0.081 % at 30 atm.
    plain = reduce(standardization(standard=LITERATURE))
    size = correction(plain, "standard_state")
    assert not size.applied and size.size_percent == pytest.approx(0.079, abs=0.004)
    assert "estimate" in size.words and "from memory" in size.words
    asked = standardization(standard=LITERATURE, method={"corrections": {"standard_state": True}})
    charge, before = reduce(asked).heat["charge_j"], plain.heat["charge_j"]
    assert charge is not None and before is not None
    assert charge / before == pytest.approx(size.factor)
    assert charge / 1.00076 == pytest.approx(26434.0, abs=3.0)


def test_a_certificate_is_not_brought_to_the_standard_state(standardization: RunFile) -> None:
    assert "standard_state" not in {item.name for item in reduce(standardization()).corrections}


def test_the_charge_itself_is_neglected_unless_asked_for(
    standardization: RunFile, unknown: RunFile
) -> None:
    # 1 g · 1.202 J/(g K), benzoic acid by the CRC table of the chemicals package.
    asked = {"method": {"corrections": {"contents": True}}}
    plain, apart = reduce(standardization()), reduce(standardization(**asked))
    size = correction(plain, "contents")
    assert not size.applied and "neglected" in size.words
    assert size.size_percent == pytest.approx(100.0 * 1.202 / 10624.0, rel=1e-3)
    assert plain.heat_capacity is not None and apart.heat_capacity is not None
    less = [c["at_nominal_water_j_per_k"] for c in (plain.heat_capacity, apart.heat_capacity)]
    assert less[0] - less[1] == pytest.approx(1.202, abs=1e-6)
    assert correction(apart, "contents").applied
    run = reduce(unknown(**asked)).heat_capacity
    assert run is not None and run["j_per_k"] == pytest.approx(10001.202)


def test_the_contents_cancel_between_standard_and_unknown_of_one_mass(
    standardization: RunFile, unknown: RunFile
) -> None:
    found = []
    for on in (False, True):
        asked = {"corrections": {"contents": on}}
        capacity = reduce(standardization(method=asked)).heat_capacity
        assert capacity is not None
        given = {"j_per_k": capacity["at_nominal_water_j_per_k"]}
        result = reduce(unknown(method=asked, heat_capacity=given)).combustion
        assert result is not None
        found.append(result["du_j_per_g"])
    assert found[0] == pytest.approx(found[1], rel=1e-12)


def test_each_aid_is_listed_with_its_own_value_and_all_are_summed(unknown: RunFile) -> None:
    # By hand: 0.1 g · 46 000 J/g + 0.25 g · 18 500 J/g = 4600 J + 4625 J.
    aids = [
        {"name": "oil", "mass_g": 0.1, "j_per_g": 46000.0},
        {"name": "capsule", "mass_g": 0.25, "j_per_g": 18500.0},
    ]
    with_aids, without = reduce(unknown(aids=aids)), reduce(unknown())
    assert with_aids.heat["aids_j"] == 9225.0
    words = correction(with_aids, "aids").words
    assert "oil 0.1 g · 46000 J/g" in words and "capsule 0.25 g · 18500 J/g" in words
    assert with_aids.combustion is not None and without.combustion is not None
    moved = with_aids.combustion["du_j_per_g"] - without.combustion["du_j_per_g"]  # type: ignore[operator]  # both are numbers
    assert moved == pytest.approx(9225.0)
    off = reduce(unknown(aids=aids, method={"corrections": {"aids": False}}))
    assert off.combustion is not None
    assert off.combustion["du_j_per_g"] == without.combustion["du_j_per_g"]
    assert correction(off, "aids").size_percent == pytest.approx(36.9, abs=0.1)


def test_the_states_of_the_products_are_written_out(unknown: RunFile) -> None:
    substance = {"name": "L-cysteine", "formula": "C3H7NO2S"}
    result = reduce(unknown(simulate.Firing(), substance=substance)).combustion
    assert result is not None
    assert result["product_states"] == (
        "CO2 as a gas, H2O as a liquid, N2 as a gas, H2SO4 dissolved in 115 H2O"
    )


@pytest.mark.parametrize("kind", ["standardization", "unknown"])
def test_every_correction_is_listed_with_words_on_or_off(
    standardization: RunFile, unknown: RunFile, kind: str
) -> None:
    names = ("bucket_water", "buoyancy", "conditions", "fuse", "thread", "acid", "aids")
    off = {"corrections": dict.fromkeys([*names, "standard_state", "contents"], False)}
    run = (standardization if kind == "standardization" else unknown)(method=off)
    run |= {"thread": {"mass_g": 0.01}, "aids": [{"name": "oil", "mass_g": 0.1, "j_per_g": 4e4}]}
    listed = reduce(run | {"bucket_water_g": 1990.0}).corrections
    assert all(item.words and not item.applied for item in listed)
    sized = {item.name for item in listed if item.size_percent}
    assert {"bucket_water", "fuse", "thread", "acid", "aids", "contents"} <= sized

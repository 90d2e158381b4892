"""The run file is read field by field, and every complaint names its field."""

import json
import math
from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from reduction import InputError, ReductionError
from reduction.inputs import RunInputs

from .conftest import FIXTURES, RunFile


def test_the_example_run_file_is_read_and_given_back() -> None:
    path = FIXTURES / "example_run.json"
    inputs = RunInputs.from_dict(json.loads(path.read_text()), base_dir=path.parent)
    assert inputs.charge_g == 0.9876
    plain = inputs.as_dict()
    assert json.loads(json.dumps(plain, allow_nan=False)) == plain
    assert RunInputs.from_dict(plain).as_dict() == plain


def test_a_key_that_is_a_word_of_the_language_keeps_its_name(unknown: RunFile) -> None:
    inputs = RunInputs.from_dict(unknown())
    assert inputs.heat_capacity is not None
    assert inputs.heat_capacity.origin == "spring, bench 2"
    assert inputs.as_dict()["heat_capacity"]["from"] == "spring, bench 2"


def test_what_is_left_out_takes_its_default() -> None:
    inputs = RunInputs.from_dict(
        {"kind": "practice", "readings": {"time_s": [0], "temperature_c": [20]}}
    )
    assert inputs.charge_g is None and inputs.aids == () and inputs.bomb.volume_ml is None
    assert inputs.method.rise == "regnault_pfaundler"
    assert inputs.method.corrections.buoyancy and not inputs.method.corrections.standard_state


def test_blank_slots_are_null_in_and_out() -> None:
    data = {"kind": "blank", "readings": {"time_s": [0, 1], "temperature_c": [20.0, None]}}
    inputs = RunInputs.from_dict(data)
    assert math.isnan(inputs.readings.temperature_c[1])
    assert inputs.as_dict()["readings"]["temperature_c"] == [20.0, None]


def test_arrays_and_decimals_are_numbers(standardization: RunFile) -> None:
    run = standardization(charge_g=Decimal("1.0000"))
    run["readings"] = {key: np.array(value) for key, value in run["readings"].items()}
    assert RunInputs.from_dict(run).charge_g == 1.0


@pytest.mark.parametrize(
    ("field", "value", "complaint"),
    [
        ("charge_g", -1.0, "above 0 in g"),
        ("charge_g", 0, "above 0 in g"),
        ("charge_g", float("nan"), "nan cannot be used"),
        ("charge_g", float("inf"), "inf cannot be used"),
        ("charge_g", 10**400, "inf cannot be used"),
        ("charge_g", "0,9876", "'0,9876' is not a number"),
        ("charge_g", True, "True is not a number"),
        ("charge_g", [1], "is not a number"),
        ("kind", "spring", "one of standardization"),
        ("kind", None, "is missing"),
        ("after", {"soot": "plenty"}, "one of none, trace, much"),
        ("after", {"residue_mg": -1}, "of 0 or more in mg"),
        ("fired_by_clock", "sundial", "one of logger, watch, pc"),
        ("bucket_water", {"volume_ml": 2000}, "is missing"),
        ("bucket_water", {"volume_ml": 2000, "temperature_c": 296}, "0 to 50 °C"),
        ("bucket_water", {"volume_ml": 2000, "temperature_c": 23}, "give only one"),
        ("standard", {"name": "benzoic acid"}, "expected the certificate's J/g, or a literature"),
        ("standard", {"dch_kj_per_mol": -3226.87, "formula": "C7H6O2"}, "citation beside it"),
        ("standard", {"dch_kj_per_mol": -3226.87, "citation": "a table"}, "with the formula"),
        (
            "standard",
            {"dch_kj_per_mol": 3226.87, "formula": "C7H6O2", "citation": "a table"},
            "3226.87 kJ/mol cannot be used",
        ),
        (
            "standard",
            {"j_per_g": 26434, "dch_kj_per_mol": -3226, "formula": "C7H6O2", "citation": "x"},
            "give only one",
        ),
        ("fuse", {"basis": "cal/cm", "value": 9.6, "used": 1}, "J/cm, J/g"),
        ("fuse", {"basis": "J/cm", "used": 1}, "is missing"),
        ("fuse", 7.7, "expected an object with the keys basis"),
        ("acid", {"titre_ml": -1, "titrant_mol_per_l": 0.1}, "of 0 or more in mL"),
        ("aids", {"name": "oil"}, "expected a list"),
        ("aids", [{"name": 3, "mass_g": 1, "j_per_g": 1}], "3 is not text"),
        ("standard", {"j_per_g": 26434, "basis": "water"}, "vacuum, air"),
        ("standard", {"j_per_g": 26434, "conditions": 5}, "set of named values"),
        ("method", {"corrections": {"fuse": "yes"}}, "neither true nor false"),
        ("method", {"rise": "ruler"}, "one of fraction"),
        ("charge_mg", 1000, "is not a known key"),
        ("readings", {"time_s": [0, 1], "temperature_c": [20]}, "2 times but 1 temperatures"),
        ("readings", {"time_s": [0], "temperature_c": [math.nan]}, "nan is not a number in °C"),
        ("readings", {"time_s": ["x" * 99], "temperature_c": [1]}, r"\.\.\. is not a number"),
        ("readings", {"time_s": "0 1", "temperature_c": [1]}, "expected a list of numbers"),
    ],
)
def test_a_bad_field_is_named_with_what_was_expected(
    standardization: RunFile, field: str, value: Any, complaint: str
) -> None:
    with pytest.raises(InputError, match=complaint) as caught:
        RunInputs.from_dict(standardization(**{field: value}))
    assert caught.value.field.startswith(field)
    assert isinstance(caught.value, ReductionError)


@pytest.mark.parametrize("data", [None, [], 3, "run"])
def test_what_is_no_run_file_is_refused(data: object) -> None:
    with pytest.raises(InputError, match="expected an object"):
        RunInputs.from_dict(data)


@pytest.mark.parametrize("base_dir", [None, FIXTURES])
def test_a_readings_file_needs_its_folder_and_no_readings_beside(base_dir: object) -> None:
    data = {"kind": "blank", "readings_file": "example_run_readings.csv"}
    if base_dir:
        data["readings"] = {"time_s": [0], "temperature_c": [1]}
    with pytest.raises(InputError, match="readings file"):
        RunInputs.from_dict(data, base_dir=base_dir)

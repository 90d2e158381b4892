"""Data sets: valid by the standards' own libraries, without names, and enough to reduce again."""

from __future__ import annotations

import csv
import hashlib
import json
import zipfile
from collections.abc import Callable
from io import StringIO
from pathlib import Path
from typing import Any

import frictionless
import pytest
from django.core.exceptions import ImproperlyConfigured
from django.core.management import CommandError, call_command
from pytest_django import Settings
from rocrate.rocrate import ROCrate

from labbook.actions.readings import strike_readings
from labbook.actions.samples import reveal_sample
from labbook.exchange.open_data.archive import write_open_data
from labbook.exchange.open_data.tables import TABLES, table_schema
from labbook.exchange.open_data.units import ucum
from labbook.lookups.open_data import Scope
from labbook.models import Run, Term
from labbook.settings import read_licence
from reduction.inputs import RunInputs
from reduction.reduce_run import reduce_run

from ..conftest import Laboratory, completed, standardized, unknown
from ..leaks import found_in

# Atoms and prefixes of UCUM that occur here (Unified Code for Units of Measure 2.1, tables 1 to 6;
# from memory).
UCUM_ATOMS = {
    "1", "%", "K", "Cel", "s", "g", "mg", "mL", "L", "J", "kJ", "mol", "cm", "cm3", "atm",
    "kcal_th",
}  # fmt: skip


@pytest.fixture
def burned(laboratory: Laboratory) -> Run:
    return completed(unknown(laboratory), laboratory, rise_k=2.31)


@pytest.fixture
def data_set(laboratory: Laboratory, burned: Run, tmp_path: Path) -> Path:
    """The unpacked data set of a term after the reveal."""
    reveal_sample(laboratory.sample, by=laboratory.coordinator)
    return unpacked(Scope(term=laboratory.term), tmp_path)


def unpacked(scope: Scope, folder: Path, *, with_readings: bool = True) -> Path:
    with (folder / "data-set.zip").open("wb") as file:
        write_open_data(scope, file, with_readings=with_readings)
    with zipfile.ZipFile(folder / "data-set.zip") as archive:
        archive.extractall(folder / "data-set")
    return folder / "data-set"


def table(folder: Path, name: str) -> list[dict[str, str]]:
    with (folder / "data" / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def faults(folder: Path) -> set[str]:
    """What the library of Frictionless Data says against the package, its data read with it."""
    package = frictionless.Package(str(folder / "datapackage.json"))
    report = package.validate()
    return {kind for (kind,) in report.flatten(["type"])}


def test_the_data_package_is_valid(data_set: Path) -> None:
    assert faults(data_set) == set()
    assert len(table(data_set, "readings")) == 4 * 81
    assert {row["substance"] for row in table(data_set, "runs")} == {"", "naphthalene"}


def without_readings(laboratory: Laboratory, tmp_path: Path) -> Path:
    return unpacked(Scope(bench=laboratory.bench), tmp_path, with_readings=False)


def test_that_of_a_bench_is_valid_with_or_without_readings(
    laboratory: Laboratory, burned: Run, tmp_path: Path
) -> None:
    folder = without_readings(laboratory, tmp_path)
    assert faults(folder) == set()
    assert not (folder / "data" / "readings.csv").exists()
    assert len(table(folder, "histories")) == 1


DAMAGES: dict[str, tuple[str, Callable[[str], str]]] = {
    "type-error": ("results", lambda text: text.replace(",K,", ",K,x", 1)),
    "primary-key": ("terms", lambda text: text + text.splitlines()[1] + "\n"),
    "foreign-key": ("runs", lambda text: text.replace(",B1,", ",B9,", 1)),
    "constraint-error": ("runs", lambda text: text.replace(",complete,", ",gone,", 1)),
    "hash-count": ("benches", lambda text: text.replace("2000.0", "2000.1")),
}


def test_a_damaged_one_is_found_out(data_set: Path) -> None:
    for fault, (name, damage) in DAMAGES.items():
        file = data_set / "data" / f"{name}.csv"
        sound = file.read_text()
        file.write_text(damage(sound))
        assert fault in faults(data_set), fault
        file.write_text(sound)
    assert faults(data_set) == set()


def test_the_crate_lists_every_file_with_its_checksum(data_set: Path) -> None:
    crate = ROCrate(data_set)
    there = {str(path.relative_to(data_set)) for path in data_set.rglob("*") if path.is_file()} - {
        "ro-crate-metadata.json"
    }
    entities = {entity.id: entity for entity in crate.data_entities}
    assert set(entities) == there
    for name, entity in entities.items():
        content = (data_set / name).read_bytes()
        assert entity["sha256"] == hashlib.sha256(content).hexdigest()
        assert entity["contentSize"] == str(len(content))
    root = crate.root_dataset
    assert crate.version == "1.1" and root["datePublished"] and root["creator"]["name"]
    # RO-Crate 1.1 asks for these four of the root (section “Direct properties of the Root Data
    # Entity”).
    assert all(root[name] for name in ("name", "description", "datePublished", "license"))
    units = {one["name"]: one["unitText"] for one in root["variableMeasured"]}
    assert units["temperature_c"] == "Cel" and units["c_j_per_k"] == "J/K"


def test_a_licence_that_is_stated_stands_in_both_descriptions(
    laboratory: Laboratory, burned: Run, tmp_path: Path, settings: Settings
) -> None:
    settings.LABBOOK_OPEN_LICENCE = "CC-BY-4.0"
    folder = without_readings(laboratory, tmp_path)
    licence = ROCrate(folder).root_dataset["license"]
    assert licence.id == "https://spdx.org/licenses/CC-BY-4.0"
    package = json.loads((folder / "datapackage.json").read_text())
    assert package["licenses"] == [{"name": "CC-BY-4.0"}] and faults(folder) == set()


@pytest.mark.parametrize(
    ("given", "is_taken"),
    [("", True), ("CC-BY-4.0", True), ("https://a.example/licence", True), ("by me, free", False)],
)
def test_a_licence_is_an_identifier_or_an_address(
    monkeypatch: pytest.MonkeyPatch, given: str, is_taken: bool
) -> None:
    monkeypatch.setenv("LABBOOK_OPEN_LICENCE", given)
    if is_taken:
        assert read_licence() == given
        return
    with pytest.raises(ImproperlyConfigured, match="SPDX identifier"):
        read_licence()


def test_a_run_reduced_again_from_the_tables_gives_the_same_number(
    laboratory: Laboratory, tmp_path: Path
) -> None:
    run = standardized(laboratory, (2.5,)).runs.get()
    strike_readings(run, 70, 72, "a slip", by=laboratory.assistant)
    folder = unpacked(Scope(term=laboratory.term), tmp_path)
    again = reduce_run(run_file(folder, run.pk)).as_dict()
    said = {
        row["quantity"]: float(row["value"])
        for row in table(folder, "results")
        if row["run"] == str(run.pk) and row["is_used"] == "true"
    }
    assert again["heat_capacity"]["at_nominal_water_j_per_k"] == said["heat_capacity"]
    assert again["rise_used"]["rise_k"] == said["corrected_rise"]
    run.refresh_from_db()
    assert run.result is not None and run.result.c_j_per_k == said["heat_capacity"]


def run_file(folder: Path, number: int) -> RunInputs:
    """A run file put together from the tables alone."""
    readings = [
        row
        for row in table(folder, "readings")
        if row["run"] == str(number) and row["is_struck"] == "false"
    ]
    tree: dict[str, Any] = {
        "readings": {
            "time_s": [float(row["time_s"]) for row in readings],
            "temperature_c": [float(row["temperature_c"]) for row in readings],
        }
    }
    for row in table(folder, "inputs"):
        if row["run"] == str(number):
            *above, last = row["key"].split(".")
            place = tree
            for name in above:
                place = place.setdefault(name, {})
            words = {"true": True, "false": False}.get(row["text"], row["text"])
            place[last] = float(row["number"]) if row["number"] else words
    return RunInputs.from_dict(tree)


def test_runs_of_a_hidden_sample_are_left_out_until_the_reveal(
    laboratory: Laboratory, burned: Run, tmp_path: Path
) -> None:
    folder = unpacked(Scope(term=laboratory.term), tmp_path)
    everything = "".join(path.read_text() for path in folder.rglob("*") if path.is_file())
    assert str(burned.pk) not in {row["number"] for row in table(folder, "runs")}
    assert found_in(everything) == set() and "U-1" not in everything
    assert "1 run of samples that are not revealed yet" in everything
    assert faults(folder) == set()


def test_nobody_is_named_in_it(data_set: Path) -> None:
    everything = "".join(path.read_text() for path in data_set.rglob("*") if path.is_file())
    for name in ("Ada Quill", "M1", "Monday", "ta,", "coordinator"):
        assert name not in everything, name


def test_every_unit_is_a_code_of_ucum(data_set: Path) -> None:
    units = {row["unit"] for name in ("results", "constants", "inputs")
             for row in table(data_set, name)} - {""}  # fmt: skip
    units |= {
        field["unit"] for one in TABLES for field in table_schema(one)["fields"] if "unit" in field
    }
    assert len(units) > 10
    for unit in units | {ucum("% kcal/(mol atm)"), ucum("per unit")}:
        atoms = unit.replace("(", "").replace(")", "").replace("/", ".").split(".")
        assert set(atoms) <= UCUM_ATOMS, unit


def test_a_text_that_begins_like_a_formula_starts_none(
    laboratory: Laboratory, burned: Run, tmp_path: Path
) -> None:
    Term.objects.filter(pk=laboratory.term.pk).update(name="=1+1")
    laboratory.term.refresh_from_db()
    folder = unpacked(Scope(term=laboratory.term), tmp_path)
    assert table(folder, "terms")[0]["name"] == "'=1+1" and faults(folder) == set()


def test_the_command_writes_it_and_says_what_stands_against_it(
    laboratory: Laboratory, burned: Run, tmp_path: Path
) -> None:
    out, file = StringIO(), tmp_path / "autumn.zip"
    call_command("open_data", "--term", "autumn", "--to", str(file), stdout=out, stderr=StringIO())
    assert "data/readings.csv" in out.getvalue()
    assert frictionless.Package(str(file)).validate().valid
    Term.objects.update(is_practice=True)
    for arguments, sentence in (
        (["--term", "autumn"], "Nothing was written"),
        (["--term", "none"], "There is no term"),
        (["--bench", "B9"], "There is no bench"),
    ):
        with pytest.raises(CommandError, match=sentence):
            call_command("open_data", *arguments, "--to", str(file), stderr=StringIO())

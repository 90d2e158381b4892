"""The energy balances as a spreadsheet: worked out from its formulas it gives the kept results."""

from __future__ import annotations

import math
import re
import shutil
import statistics
import subprocess
from io import BytesIO
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from labbook.actions.handing_in import hand_in
from labbook.actions.samples import reveal_sample
from labbook.exchange.package.delivery import Delivery, delivery_of
from labbook.exchange.package.workbook import energy_balances
from labbook.typesetting.spreadsheet import spreadsheet_formula
from reduction.replicates import student_t
from reduction.working.expressions import Difference, Negative, Square, Sum, Symbol

from ..conftest import Laboratory, completed, unknown

CLOSE = 1e-9
CELL = re.compile(r"(?:'([^']+)'!)?\b([A-Z])(\d+)(?::\2(\d+))?\b")


@pytest.fixture
def delivery(laboratory: Laboratory) -> Delivery:
    run = completed(unknown(laboratory), laboratory, rise_k=2.31)
    assert run.sample is not None
    reveal_sample(run.sample, by=laboratory.coordinator)
    return delivery_of(hand_in(laboratory.group.group, by=laboratory.group), None)


class Evaluated:
    """The few functions and signs the workbook uses, worked out cell by cell."""

    FUNCTIONS = {
        "SQRT": math.sqrt,
        "LN": math.log,
        "COUNT": len,
        "AVERAGE": statistics.fmean,
        "STDEV": statistics.stdev,
        "TINV": lambda share, degrees: student_t(degrees, 1 - share),
    }

    def __init__(self, content: bytes) -> None:
        self.book = openpyxl.load_workbook(BytesIO(content))

    def cell(self, sheet: str, address: str) -> Any:
        value = self.book[sheet][address].value
        if not (isinstance(value, str) and value.startswith("=")):
            return value
        names: dict[str, Any] = {}

        def named(found: re.Match[str]) -> str:
            where, letter, first, last = found.group(1) or sheet, *found.groups()[1:]
            rows = range(int(first), int(last or first) + 1)
            values = [self.cell(where, f"{letter}{row}") for row in rows]
            names[f"v{len(names)}"] = values if last else values[0]
            return f"v{len(names) - 1}"

        formula = CELL.sub(named, value[1:]).replace("^", "**")
        return eval(formula, {"__builtins__": {}}, self.FUNCTIONS | names)  # our own formulas

    def values(self, sheet: str, column: str) -> dict[str, Any]:
        rows = range(1, self.book[sheet].max_row + 1)
        return {
            self.book[sheet][f"A{row}"].value: self.cell(sheet, f"{column}{row}") for row in rows
        }


def check(found: dict[str, dict[str, Any]], delivery: Delivery) -> int:
    """Every step of every working against its cell; how many were compared."""
    compared = 0
    for run in delivery.runs:
        for steps in run.steps.values():
            for step in steps:
                value = found[f"Run {run.number}"][step.title]
                assert value == pytest.approx(step.result, rel=CLOSE, abs=1e-9), step.key
                compared += 1
    (standardization,) = delivery.record["standardizations"]
    approved = standardization["approved"]
    sheet = found[f"Standardization {standardization['number']}"]
    assert sheet["Mean"] == pytest.approx(approved["c_j_per_k"], rel=CLOSE)
    assert sheet["Standard deviation s"] == pytest.approx(approved["s_j_per_k"], rel=1e-6)
    half = sheet["Half width of the interval"]
    assert half == pytest.approx(approved["half_width_j_per_k"], rel=1e-6)
    return compared


def test_its_formulas_give_every_step_and_the_standardizations_mean(delivery: Delivery) -> None:
    content = energy_balances(delivery)
    assert content is not None
    evaluated = Evaluated(content)
    found = {
        name: evaluated.values(name, "C" if name.startswith("Run") else "B")
        for name in evaluated.book.sheetnames
    }
    assert check(found, delivery) > 60
    unknown_run = delivery.runs[-1]
    keys = {step.key for steps in unknown_run.steps.values() for step in steps}
    assert {"dT", "q_total", "dc_u", "dc_U", "dc_H"} <= keys


def test_libreoffice_works_out_the_same(delivery: Delivery, tmp_path: Path) -> None:
    office = shutil.which("soffice")
    if office is None:
        pytest.skip("LibreOffice is not installed (Debian: libreoffice-calc-nogui)")
    content = energy_balances(delivery)
    assert content is not None
    (tmp_path / "written.xlsx").write_bytes(content)
    profile = f"-env:UserInstallation=file://{tmp_path}/profile"
    convert = ["--headless", "--convert-to", "xlsx", "--outdir", str(tmp_path / "worked-out")]
    subprocess.run(
        [office, profile, *convert, str(tmp_path / "written.xlsx")], check=True, timeout=120
    )
    book = openpyxl.load_workbook(tmp_path / "worked-out" / "written.xlsx", data_only=True)
    found = {
        sheet.title: {
            row[0]: row[2 if sheet.title.startswith("Run") else 1]
            for row in sheet.iter_rows(values_only=True)
        }
        for sheet in book
    }
    assert check(found, delivery) > 60


def test_it_has_formulas_with_units_and_sources_and_no_macros(delivery: Delivery) -> None:
    content = energy_balances(delivery)
    assert content is not None
    assert b"vbaProject" not in content
    book = openpyxl.load_workbook(BytesIO(content))
    run = delivery.runs[0]
    rows = {row[0].value: row for row in book[f"Run {run.number}"].iter_rows(min_row=4)}
    gross, charge = rows["Crucible with pellet"], rows["Mass"]
    assert (gross[2].value, gross[3].value, gross[5].value) == (13.9876, "g", "run sheet")
    assert charge[2].value == f"={gross[2].coordinate}-C{gross[2].row + 1}"
    assert str(rows["Corrected temperature rise"][2].value).startswith("=")


def test_a_part_that_is_worked_out_stands_in_brackets() -> None:
    a, b = Symbol("a", "", 1.0), Symbol("b", "", 2.0)
    cells = {"a": "C1", "b": "C2"}
    written = spreadsheet_formula(
        Difference(Negative(Square(a)), Sum((a, b))), lambda symbol: cells[symbol.key]
    )
    assert written == "(-(C1^2))-(C1+C2)"

"""What the demonstration laboratory consists of, read from its files."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.conf import settings

FOLDER = settings.BASE_DIR / "fixtures" / "demonstration"


@dataclass(frozen=True)
class Plan:
    """How much of it to build. A smaller one serves the tests."""

    terms: int = 5
    visits: int = 3  # afternoons of each group in a term
    groups: int = 4  # groups of each of the two sections


@dataclass(frozen=True)
class BenchTruth:
    """A bench as it really is, which its runs can only estimate."""

    code: str
    place: str
    heat_capacity_j_per_k: float
    leak_per_s: float
    thermometer_step_k: str
    jacket_kind: str
    parts: dict[str, str]
    drift_per_year: float = 0.0
    scatter_factor: float = 1.0
    step_factor: float = 1.0

    def true_heat_capacity(self, years: float, has_changed: bool) -> float:
        """C [J/K] at the nominal water, so many years after the start of the record."""
        drifted = self.heat_capacity_j_per_k * (1 + self.drift_per_year * years)
        return drifted * (self.step_factor if has_changed else 1.0)

    @property
    def decimals(self) -> int:
        """Digits its thermometer shows after the decimal mark."""
        return len(self.thermometer_step_k.partition(".")[2])


class Scenario:
    """The files of the demonstration laboratory."""

    @cached_property
    def laboratory(self) -> dict[str, Any]:
        return _read("laboratory")

    @cached_property
    def people(self) -> dict[str, Any]:
        return _read("people")

    @cached_property
    def stock(self) -> dict[str, Any]:
        """Substances and the samples made of them."""
        return _read("substances")

    @cached_property
    def bench_log(self) -> dict[str, Any]:
        """Plans for the parts, and what happened to the benches."""
        return _read("bench_log")

    @cached_property
    def marking(self) -> dict[str, Any]:
        """What hand-ins are marked for, and how two TAs saw the first."""
        return _read("marking")

    @cached_property
    def benches(self) -> list[BenchTruth]:
        change = self.laboratory["part_change"]
        steps = {change["bench"]: change["factor"]}
        return [
            BenchTruth(**row, step_factor=steps.get(row["code"], 1.0))
            for row in self.laboratory["benches"]
        ]

    def meets_with(self, incident: str, number: int) -> bool:
        """Whether this is to happen on the group afternoon of this number."""
        return number in self.laboratory["incidents"][incident]

    def student_name(self, index: int) -> str:
        given, family = self.people["given"], self.people["family"]
        return f"{given[index % len(given)]} {family[index % len(family)]}"


def _read(name: str) -> dict[str, Any]:
    return tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))

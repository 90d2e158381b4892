"""Run files the tests start from; every run is invented and simulated."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from reduction import simulate

FIXTURES = Path(__file__).parents[2] / "fixtures"

RunFile = Callable[..., dict[str, Any]]


def readings(firing: simulate.Firing) -> dict[str, list[float]]:
    time_s, temperature_c = simulate.thermogram(firing)
    return {"time_s": time_s.tolist(), "temperature_c": temperature_c.tolist()}


@pytest.fixture
def standardization() -> RunFile:
    """A complete standardization run file; keyword arguments replace its fields."""

    def build(firing: simulate.Firing | None = None, **fields: Any) -> dict[str, Any]:
        run: dict[str, Any] = {
            "kind": "standardization",
            "readings": readings(firing or simulate.Firing()),
            "fired_at_s": 300.0,
            "charge_g": 1.0,
            "fuse": {"basis": "J/cm", "value": 9.6, "used": 7.7},
            "acid": {"titre_ml": 8.2, "titrant_mol_per_l": 0.0709, "kj_per_mol": 59.7},
            "bucket_water_g": 2000.0,
            "nominal_water_g": 2000.0,
            "bomb": {"volume_ml": 340.0, "water_ml": 1.0, "oxygen_atm": 30.0},
            "standard": {"j_per_g": 26434.0, "basis": "vacuum", "density_g_per_cm3": 1.320},
        }
        return run | fields

    return build


@pytest.fixture
def unknown(standardization: RunFile) -> RunFile:
    """A complete run file of a known substance burned as an unknown."""

    def build(firing: simulate.Firing | None = None, **fields: Any) -> dict[str, Any]:
        run = standardization(firing) | {
            "kind": "unknown",
            "standard": None,
            "heat_capacity": {"j_per_k": 10000.0, "u_j_per_k": 12.0, "from": "spring, bench 2"},
            "substance": {"name": "naphthalene", "formula": "C10H8", "phase": "s"},
        }
        return run | fields

    return build

"""Budgets of uncertainty, with every number cut to the digits worth printing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from reduction.digits import last_place

from .numbers import as_decimal, round_to

TITLES = {
    "heat_capacity": "Heat capacity",
    "du": "Energy of combustion per gram",
    "dcu": "Energy of combustion",
    "dch": "Enthalpy of combustion",
    "dfh": "Enthalpy of formation",
}


def rounded_by(value: float | None, u: float | None) -> Any:
    """The value to the last place its uncertainty leaves; as it is without one."""
    number, spread = as_decimal(value), as_decimal(u)
    if number is None or spread is None or spread <= 0:
        return number
    return round_to(number, last_place(spread))


def budgets_shown(budgets: Mapping[str, Any]) -> list[tuple[str, dict[str, Any]]]:
    """Each budget with its title, its rows with the figures as they are printed."""
    return [
        (TITLES[name], _shown(budgets[name])) for name in TITLES if budgets.get(name) is not None
    ]


def _shown(budget: Mapping[str, Any]) -> dict[str, Any]:
    u, dof = budget["u"], budget["dof"]
    degrees = "many degrees of freedom" if dof is None else f"{dof:.0f} degrees of freedom"
    rows = sorted(budget["rows"], key=lambda row: -row["share_percent"])
    return {
        **budget,
        "u_shown": rounded_by(u, u),
        "dof_shown": degrees,
        "rows": [_row(row) for row in rows],
    }


def _row(row: Mapping[str, Any]) -> dict[str, Any]:
    adds = row["contribution"]
    return {
        **row,
        "value_shown": rounded_by(row["value"], row["u"]),
        "u_shown": rounded_by(row["u"], row["u"]),
        "adds_shown": rounded_by(abs(adds), abs(adds)),
    }

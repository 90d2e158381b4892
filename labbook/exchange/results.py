"""The results of a run as they are quoted: value, expanded uncertainty, unit."""

from __future__ import annotations

from typing import Any, NamedTuple

# symbol, words, where the reduction puts the value, its budget, unit
RESULTS = (
    ("C", "heat capacity", "heat_capacity", "at_nominal_water_j_per_k", "heat_capacity", "J/K"),
    ("dc_u", "energy of combustion per gram", "combustion", "du_j_per_g", "du", "J/g"),
    ("dc_U", "energy of combustion", "combustion", "dcu_kj_per_mol", "dcu", "kJ/mol"),
    ("dc_H", "enthalpy of combustion", "combustion", "dch_kj_per_mol", "dch", "kJ/mol"),
    ("df_H", "enthalpy of formation", "combustion", "dfh_kj_per_mol", "dfh", "kJ/mol"),
)


class Quoted(NamedTuple):
    symbol: str
    words: str
    value: float
    expanded_u: float | None  # for 95 %
    unit: str


def results_in(outputs: dict[str, Any]) -> list[Quoted]:
    """What a reduction found, not what was put into it: C is no result of an unknown."""
    budgets = outputs.get("budget") or {}
    return [
        Quoted(symbol, words, value, (budgets.get(budget) or {}).get("expanded_u"), unit)
        for symbol, words, part, key, budget, unit in RESULTS
        if (value := (outputs.get(part) or {}).get(key)) is not None
        and not (symbol == "C" and outputs.get("combustion"))
    ]

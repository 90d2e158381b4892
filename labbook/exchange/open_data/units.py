"""Units as codes that programs know: the Unified Code for Units of Measure (UCUM, ucum.org)."""

from __future__ import annotations

CODES = {
    "°C": "Cel",
    "per unit": "1",
    "degrees of freedom": "1",
    "% kcal/(mol atm)": "%.kcal_th/(mol.atm)",
}
# How a name ends, the longest ending first.
ENDINGS = {
    "_mol_per_l": "mol/L",
    "_kj_per_mol": "kJ/mol",
    "_g_per_cm3": "g/cm3",
    "_j_per_g": "J/g",
    "_j_per_k": "J/K",
    "_percent": "%",
    "_atm": "atm",
    "_cm": "cm",
    "_mg": "mg",
    "_ml": "mL",
    "_g": "g",
    "_c": "Cel",
    "_k": "K",
    "_s": "s",
}


def ucum(unit: str) -> str:
    """The code of a unit as it is written in the record: J/(g K) -> J/(g.K)."""
    return CODES.get(unit) or unit.replace("³", "3").replace("°C", "Cel").replace(" ", ".")


def unit_named_by(key: str) -> str:
    """The unit a name ends in: charge_g -> g. Empty where the name says none."""
    return next((unit for ending, unit in ENDINGS.items() if f"_{key}".endswith(ending)), "")

"""The steps of the work by hand, in order, each with the units its figure may be given in."""

from dataclasses import dataclass

from reduction import sources

CALORIE = sources.CALORIE_J.value
HEATS = {"J": 1.0, "kJ": 1000.0, "cal": CALORIE}
MOLAR = {"kJ/mol": 1.0, "kcal/mol": CALORIE}
CURVE = ("fore_drift", "after_drift", "crossing", "rise")
BALANCE = ("charge", "fuse", "acid")
MOLE = ("molar_mass", "dcu", "dn", "rt", "dch")


@dataclass(frozen=True)
class Step:
    """One figure; `units` says how many of the unit reckoned in one of each is.

    Reckoned in K/s, s, K, g, J, J/K, J/g, g/mol, kJ/mol.
    """

    key: str
    words: str
    units: dict[str, float]


STEPS = {
    step.key: step
    for step in (
        Step(
            "fore_drift",
            "Drift of the fore period",
            {"mK/min": 1 / 60_000, "K/min": 1 / 60, "K/s": 1.0},
        ),
        Step(
            "after_drift",
            "Drift of the after period",
            {"mK/min": 1 / 60_000, "K/min": 1 / 60, "K/s": 1.0},
        ),
        Step("crossing", "Crossing, by the clock of the readings", {"s": 1.0}),
        Step("rise", "Corrected temperature rise", {"K": 1.0}),
        Step("charge", "Mass of the charge", {"g": 1.0, "mg": 0.001}),
        Step("fuse", "Heat of the fuse wire", HEATS),
        Step("acid", "Heat of the nitric acid", HEATS),
        Step(
            "capacity",
            "Heat capacity of the calorimeter",
            {"J/K": 1.0, "kJ/K": 1000.0, "cal/K": CALORIE},
        ),
        Step(
            "capacity_used",
            "Heat capacity used",
            {"J/K": 1.0, "kJ/K": 1000.0, "cal/K": CALORIE},
        ),
        Step(
            "du",
            "Energy of combustion per gram",
            {"J/g": 1.0, "kJ/g": 1000.0, "cal/g": CALORIE},
        ),
        Step("molar_mass", "Molar mass", {"g/mol": 1.0}),
        Step("dcu", "Energy of combustion per mole", MOLAR),
        Step("dn", "Change in moles of gas", {"": 1.0}),
        Step("rt", "R·T", {"kJ/mol": 1.0, "J/mol": 0.001, "cal/mol": CALORIE / 1000.0}),
        Step("dch", "Enthalpy of combustion", MOLAR),
    )
}


def steps_for(kind: str, *, is_named: bool) -> tuple[str, ...]:
    """The steps of a kind of run; those per mole only where it is known what was burned."""
    if kind == "blank":
        return CURVE
    if kind != "unknown":
        return (*CURVE, *BALANCE, "capacity")
    return (*CURVE, *BALANCE, "capacity_used", "du", *(MOLE if is_named else ()))


def needed_for(kind: str) -> tuple[str, ...]:
    """The figures without which a chain says nothing: the extrapolation and what it was for."""
    if kind == "blank":
        return CURVE
    return (*CURVE, "capacity") if kind != "unknown" else (*CURVE, "capacity_used", "du")

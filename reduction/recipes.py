"""What each kind of run needs beside its readings, and what it is reduced to."""

from dataclasses import dataclass

from reduction.inputs import RunInputs


@dataclass(frozen=True)
class Recipe:
    """Whether a run gives a heat capacity or an energy of combustion, and what that takes."""

    heat_capacity: bool
    combustion: bool
    needs: tuple[str, ...]


NEEDED = {
    "charge_g": "the mass of the charge",
    "standard": "the certificate of the standard",
    "heat_capacity": "the bench's approved heat capacity",
}

RECIPES = {
    "standardization": Recipe(True, False, ("charge_g", "standard")),
    "unknown": Recipe(False, True, ("charge_g", "heat_capacity")),
    "blank": Recipe(False, False, ()),
}


def recipe_for(inputs: RunInputs) -> Recipe:
    """The recipe of a run; a practice run goes as far as what was entered allows."""
    if inputs.kind != "practice":
        return RECIPES[inputs.kind]
    if inputs.heat_capacity is not None:
        return RECIPES["unknown"]
    return RECIPES["standardization" if inputs.standard is not None else "blank"]


def missing_fields(inputs: RunInputs) -> list[tuple[str, str]]:
    """The fields, with their words, that the result still needs."""
    needs = recipe_for(inputs).needs
    return [(name, NEEDED[name]) for name in needs if getattr(inputs, name) is None]

"""The inputs of a budget: each with its standard uncertainty and how it enters the reduction."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from math import inf, sqrt
from typing import Any

from reduction import sources
from reduction.combustion import balance
from reduction.curve import Values
from reduction.energy import formula_trouble, reduce_energy
from reduction.inputs import RunInputs
from reduction.recipes import recipe_for

TYPED, DEFAULT, CERTIFICATE, FIT = "typed in", "default of the field", "certificate", "fit"
TWO = sqrt(2.0)
"""What is found by difference takes two readings."""
RISE_KEYS = ("rise_k", "u_k", "dof")

COMBUSTION_KEYS = {
    "du": "du_j_per_g",
    "dcu": "dcu_kj_per_mol",
    "dch": "dch_kj_per_mol",
    "dfh": "dfh_kj_per_mol",
}


@dataclass(frozen=True)
class State:
    """All that a result follows from; `formation_kj` moves the formation enthalpies of products."""

    inputs: RunInputs
    rise_k: float
    final_c: float
    formation_kj: dict[str, float] = field(default_factory=dict)


Change = Callable[[State, float], State]


@dataclass(frozen=True)
class InputQuantity:
    """An input, its standard uncertainty with degrees of freedom and source, and how to move it.

    `shared` inputs are alike for all runs of a set (certificates, lots, constants).
    """

    name: str
    words: str
    value: float
    unit: str
    u: float
    source: str
    change: Change
    dof: float = inf
    shared: bool = False

    def known(self, u: float, source: str, dof: float = inf) -> "InputQuantity":
        """The same with an uncertainty of its own."""
        return replace(self, u=u, source=source, dof=dof)


def results(state: State) -> dict[str, float]:
    """What the energy balance gives by name: C at nominal water, or the heats of combustion."""
    energy = reduce_energy(state.inputs, state.rise_k, state.final_c)
    if energy.combustion is not None:
        found = {
            name: float(str(energy.combustion[key]))
            for name, key in COMBUSTION_KEYS.items()
            if key in energy.combustion
        }
        if "dfh" in found:
            found["dfh"] += _formation_shift(state)
        return found
    if energy.heat_capacity is not None and recipe_for(state.inputs).heat_capacity:
        return {"heat_capacity": energy.heat_capacity["at_nominal_water_j_per_k"]}
    return {}


def _products(inputs: RunInputs) -> dict[str, float]:
    """Amounts [mol] of the products whose formation enthalpy has a known uncertainty."""
    substance = inputs.substance
    if substance is None or formula_trouble(substance) is not None:
        return {}
    equation = balance(substance.formula, substance.phase)
    return {"CO2": equation.carbon_dioxide, "H2O": equation.water}


def _formation_shift(state: State) -> float:
    amounts = _products(state.inputs) if state.formation_kj else {}
    return sum(amounts[name] * moved for name, moved in state.formation_kj.items())


def input_quantities(inputs: RunInputs, rise: Values) -> list[InputQuantity]:
    """Every input that can move the result of this run, in the order of the run sheet."""
    return [
        *_masses(inputs),
        *_standard(inputs),
        *_fuse(inputs),
        *_thread(inputs),
        *_acid(inputs),
        *_aids(inputs),
        _rise(rise),
        *_heat_capacity(inputs),
        *_formation(inputs),
    ]


def _masses(inputs: RunInputs) -> Iterator[InputQuantity]:
    if inputs.charge_g is not None:
        words = "the mass of the charge"
        yield _entered(inputs, "mass", words, "charge_g", "g", "weighing_g", twice=True)
    if inputs.bucket_water_g is not None:
        words = "the bucket water"
        yield _entered(inputs, "bucket_water", words, "bucket_water_g", "g", "bucket_water_g")


def _standard(inputs: RunInputs) -> Iterator[InputQuantity]:
    standard = inputs.standard
    if standard is None or not recipe_for(inputs).heat_capacity:
        return
    words, place = "the value of the standard", "standard.j_per_g"
    found = _entered(inputs, "certificate", words, place, "J/g", "standard_percent", shared=True)
    yield found if standard.u_j_per_g is None else found.known(standard.u_j_per_g, CERTIFICATE)


def _fuse(inputs: RunInputs) -> Iterator[InputQuantity]:
    fuse = inputs.fuse
    if fuse is None:
        return
    words = "the heat of the fuse wire"
    value = _entered(
        inputs, "fuse_value", words, "fuse.value", fuse.basis, "fuse_percent", shared=True
    )
    yield value if fuse.u is None else value.known(fuse.u, CERTIFICATE)
    what, unit, setting = (
        ("length", "cm", "fuse_length_cm") if fuse.basis == "J/cm" else ("mass", "g", "weighing_g")
    )
    words = f"the {what} of wire burned"
    yield _entered(inputs, "fuse_used", words, "fuse.used", unit, setting, twice=True)


def _thread(inputs: RunInputs) -> Iterator[InputQuantity]:
    if inputs.thread is None:
        return
    words, place = "the mass of the thread", "thread.mass_g"
    yield _entered(inputs, "thread_mass", words, place, "g", "weighing_g", twice=True)
    words, place = "the heat of the thread", "thread.j_per_g"
    yield _entered(inputs, "thread_value", words, place, "J/g", "thread_percent", shared=True)


def _acid(inputs: RunInputs) -> Iterator[InputQuantity]:
    if inputs.acid is None:
        return
    yield _entered(inputs, "titre", "the titre", "acid.titre_ml", "mL", "titre_ml")
    for name, words, place, unit, setting in (
        ("titrant", "the titrant", "acid.titrant_mol_per_l", "mol/L", "titrant_percent"),
        ("acid_value", "the heat of the acid", "acid.kj_per_mol", "kJ/mol", "acid_percent"),
    ):
        yield _entered(inputs, name, words, place, unit, setting, shared=True)


def _aids(inputs: RunInputs) -> Iterator[InputQuantity]:
    for i, aid in enumerate(inputs.aids):
        name, place = f"aid_{i + 1}", f"aids.{i}"
        words = f"the mass of {aid.name}"
        mass = f"{place}.mass_g"
        yield _entered(inputs, f"{name}_mass", words, mass, "g", "weighing_g", twice=True)
        words = f"the heat of {aid.name}"
        value = f"{place}.j_per_g"
        yield _entered(inputs, f"{name}_value", words, value, "J/g", "aid_percent", shared=True)


def _rise(rise: Values) -> InputQuantity:
    value, u, dof = (inf if rise[key] is None else float(str(rise[key])) for key in RISE_KEYS)
    words = "the corrected rise"
    return InputQuantity("rise", words, value, "K", u, FIT, _set_rise, dof)


def _set_rise(state: State, value: float) -> State:
    return replace(state, rise_k=value)


def _heat_capacity(inputs: RunInputs) -> Iterator[InputQuantity]:
    capacity = inputs.heat_capacity
    if capacity is None or not recipe_for(inputs).combustion:
        return
    words, place = "the heat capacity of the calorimeter", "heat_capacity.j_per_k"
    setting = "heat_capacity_percent"
    found = _entered(inputs, "heat_capacity", words, place, "J/K", setting, shared=True)
    dof = inf if capacity.dof is None else capacity.dof
    source = capacity.origin or TYPED
    yield found if capacity.u_j_per_k is None else found.known(capacity.u_j_per_k, source, dof)


def _formation(inputs: RunInputs) -> Iterator[InputQuantity]:
    if not recipe_for(inputs).combustion:
        return
    for product in _products(inputs):
        constant, u = sources.FORMATION_KJ_PER_MOL[product], sources.FORMATION_U_KJ_PER_MOL[product]
        yield InputQuantity(
            f"formation_{product}",
            f"the {constant.name}",
            constant.value,
            constant.unit,
            u,
            constant.source,
            _set_formation(product, constant.value),
            shared=True,
        )


def _set_formation(product: str, tabulated: float) -> Change:
    def change(state: State, value: float) -> State:
        moved = state.formation_kj | {product: value - tabulated}
        return replace(state, formation_kj=moved)

    return change


def _entered(
    inputs: RunInputs,
    name: str,
    words: str,
    place: str,
    unit: str,
    setting: str,
    *,
    twice: bool = False,
    shared: bool = False,
) -> InputQuantity:
    """A figure at a place like `acid.titre_ml` of the run file, its uncertainty from a setting."""
    own = inputs.uncertainties
    value, u = float(_look(inputs, place.split("."))), float(getattr(own, setting))
    u *= abs(value) / 100.0 if setting.endswith("_percent") else TWO if twice else 1.0
    source = DEFAULT if getattr(own, setting) == getattr(type(own)(), setting) else TYPED

    def change(state: State, moved: float) -> State:
        return replace(state, inputs=_put(state.inputs, place.split("."), moved))

    return InputQuantity(name, words, value, unit, u, source, change, shared=shared)


def _look(record: Any, path: list[str]) -> Any:
    """What stands at a path of field names and list positions."""
    for step in path:
        record = record[int(step)] if step.isdigit() else getattr(record, step)
    return record


def _put(record: Any, path: list[str], value: float) -> Any:
    """The record with another value at a path; records and lists are copied along it."""
    if not path:
        return value
    step, rest = path[0], path[1:]
    if step.isdigit():
        at = int(step)
        return (*record[:at], _put(record[at], rest, value), *record[at + 1 :])
    return replace(record, **{step: _put(getattr(record, step), rest, value)})

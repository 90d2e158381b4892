"""The energy balance of one run: heats, C or the heat of combustion, and every correction."""

from dataclasses import asdict, dataclass

from reduction import heat
from reduction.combustion import (
    Conversion,
    Equation,
    balance,
    combustion_enthalpy,
    formation_enthalpy,
    molar_mass,
    standard_state_excess,
)
from reduction.errors import InputError
from reduction.inputs import BucketWater, Fuse, Literature, RunInputs, Standard, Substance
from reduction.recipes import missing_fields, recipe_for

NO_STANDARD_STATE = "Needs the oxygen pressure and a substance of C, H and O only."


@dataclass(frozen=True)
class Correction:
    """One correction; its size, in percent of the result, is shown also when it is off."""

    name: str
    words: str
    applied: bool
    factor: float | None = None
    j_per_k: float | None = None
    size_percent: float | None = None


@dataclass(frozen=True)
class Energy:
    """Heats [J], what the run is for, and the corrections; None where it cannot be computed."""

    heat: dict[str, float | None]
    heat_capacity: dict[str, float] | None
    combustion: dict[str, object] | None
    corrections: tuple[Correction, ...]


def reduce_energy(inputs: RunInputs, rise_k: float | None, final_c: float | None) -> Energy:
    """The energy balance for a corrected rise [K] that ended at `final_c` [°C].

    Standardization `C = (m·b·|Δu|·f + Σq)/ΔT`; unknown `Δu = −(C·ΔT − Σq)/m`, C first brought to
    this run's bucket water. `heat.total_j` is the sum of the heats that are known and applied.
    """
    ancillary = _ancillary_heats(inputs)
    known = sum(q for name, q in ancillary.items() if q is not None and is_on(inputs, name))
    factors = [_buoyancy(inputs), *_standard_factors(inputs, final_c)]
    charge = _charge_heat(inputs, factors)
    total = known + (charge or 0.0)
    capacity: dict[str, float] | None = None
    combustion: dict[str, object] | None = None
    wire_known = ancillary["fuse"] is not None or inputs.fuse is None or not is_on(inputs, "fuse")
    if rise_k is not None and rise_k > 0 and wire_known and not missing_fields(inputs):
        capacity = _capacity(inputs, total, rise_k)
    run_capacity = None if capacity is None else capacity["j_per_k"]
    released = None if run_capacity is None or rise_k is None else run_capacity * rise_k
    if recipe_for(inputs).combustion and run_capacity is not None and rise_k is not None:
        mass = (inputs.charge_g or 0.0) * _applied(factors[0])
        du = heat.combustion_energy(run_capacity, rise_k, known, mass)
        combustion, factors[1:] = _combustion(inputs, du)
    corrections = (
        _water(inputs, run_capacity),
        *factors,
        *(_heat_size(inputs, name, q, released) for name, q in ancillary.items()),
        _contents(inputs, run_capacity),
    )
    heats = {"charge_j": charge} | {f"{name}_j": q for name, q in ancillary.items()}
    return Energy(heats | {"total_j": total}, capacity, combustion, corrections)


def is_on(inputs: RunInputs, name: str) -> bool:
    """Whether the course applies a correction."""
    return bool(getattr(inputs.method.corrections, name))


def _ancillary_heats(inputs: RunInputs) -> dict[str, float | None]:
    """Heats beside the charge's [J], None where nothing was entered."""
    return {
        "fuse": _fuse(inputs.fuse),
        "thread": None if inputs.thread is None else heat.thread_heat(inputs.thread),
        "acid": None if inputs.acid is None else heat.acid_heat(inputs.acid),
        "aids": heat.aids_heat(inputs.aids) if inputs.aids else None,
    }


def _fuse(fuse: Fuse | None) -> float | None:
    """The heat of the wire [J]; None also where more is left than there was."""
    return None if fuse is None or fuse.used < 0 else heat.fuse_heat(fuse)


def _charge_heat(inputs: RunInputs, factors: list[Correction]) -> float | None:
    """`m·|Δu|` times the applied factors [J]; None unless a standard was burned."""
    if not recipe_for(inputs).heat_capacity or inputs.standard is None or inputs.charge_g is None:
        return None
    charge = inputs.charge_g * inputs.standard.j_per_g
    for correction in factors:
        charge *= _applied(correction)
    return charge


def _applied(correction: Correction) -> float:
    """The factor of a correction, 1 where it is off or unknown."""
    return correction.factor if correction.applied and correction.factor is not None else 1.0


def _capacity(inputs: RunInputs, total_j: float, rise_k: float) -> dict[str, float] | None:
    """C of this run and C at the nominal bucket water [J/K]."""
    recipe, extra = recipe_for(inputs), _applied_water(inputs) + _applied_contents(inputs)
    if recipe.heat_capacity:
        this_run = heat.heat_capacity(total_j, rise_k)
        return {"j_per_k": this_run, "at_nominal_water_j_per_k": this_run - extra}
    if recipe.combustion and inputs.heat_capacity is not None:
        nominal = inputs.heat_capacity.j_per_k
        return {"j_per_k": nominal + extra, "at_nominal_water_j_per_k": nominal}
    return None


def _combustion(inputs: RunInputs, du_j_per_g: float) -> tuple[dict[str, object], list[Correction]]:
    """The heat of combustion in all its units, and the standard-state correction.

    Without a substance its identity is hidden: J/g only, as for a formula that does not balance.
    """
    substance = inputs.substance
    if substance is None or formula_trouble(substance) is not None:
        return {"du_j_per_g": du_j_per_g}, []
    dcu = molar_mass(substance.formula) * du_j_per_g / 1000.0
    correction = _standard_state(inputs, substance, dcu)
    return _molar(substance, du_j_per_g, _applied(correction)), [correction]


def formula_trouble(substance: Substance) -> str | None:
    """Why a substance's formula gives no molar values, or None where it does."""
    try:
        balance(substance.formula, substance.phase)
    except InputError as error:
        return error.sentence
    return None


def _molar(substance: Substance, du_j_per_g: float, factor: float) -> dict[str, object]:
    """Molar values [kJ/mol]; `factor` brings the bomb's value to the standard state."""
    equation, mass = balance(substance.formula, substance.phase), molar_mass(substance.formula)
    dcu = mass * du_j_per_g / 1000.0 * factor
    dch = combustion_enthalpy(dcu, equation.dn_gas)
    return {
        "du_j_per_g": du_j_per_g,
        "dcu_kj_per_mol": dcu,
        "dch_kj_per_mol": dch,
        "dfh_kj_per_mol": formation_enthalpy(equation, dch),
        "dn_gas": equation.dn_gas,
        "molar_mass_g_per_mol": mass,
        "equation": str(equation),
        "product_states": equation.states,
        "literature": _against(substance.literature, dch),
    }


def _against(literature: Literature | None, dch_kj_per_mol: float) -> dict[str, object] | None:
    if literature is None:
        return None
    off = 100.0 * (dch_kj_per_mol / literature.dch_kj_per_mol - 1.0)
    return asdict(literature) | {"difference_percent": off}


def _applied_water(inputs: RunInputs) -> float:
    """Extra heat capacity [J/K] of this run's bucket water, 0 where unknown or off."""
    if not is_on(inputs, "bucket_water"):
        return 0.0
    return _extra_water(inputs) or 0.0


def _applied_contents(inputs: RunInputs) -> float:
    """Heat capacity [J/K] of the charge, 0 where unknown or off."""
    if inputs.charge_g is None or not is_on(inputs, "contents"):
        return 0.0
    return heat.contents_j_per_k(inputs.charge_g)


def _extra_water(inputs: RunInputs) -> float | None:
    if inputs.bucket_water_g is None or inputs.nominal_water_g is None:
        return None
    return heat.water_excess_j_per_k(inputs.bucket_water_g, inputs.nominal_water_g)


def _water(inputs: RunInputs, run_capacity: float | None) -> Correction:
    extra = _extra_water(inputs)
    if extra is None:
        words = "Bucket water or its nominal mass is not given: nothing is brought to nominal."
        return Correction("bucket_water", words, False)
    words = f"{inputs.bucket_water_g:g} g of bucket water, nominal {inputs.nominal_water_g:g} g."
    if (water := inputs.bucket_water) is not None:
        words += f" {water.volume_ml:g} mL at {water.temperature_c:g} °C, {water_words(water)}."
    size = None if run_capacity is None else 100.0 * extra / run_capacity
    return Correction(
        "bucket_water", words, is_on(inputs, "bucket_water"), j_per_k=extra, size_percent=size
    )


def water_words(water: BucketWater) -> str:
    """The density the volume was turned into a mass with."""
    return f"{water.mass_g / water.volume_ml:.5f} g/mL"


def _buoyancy(inputs: RunInputs) -> Correction:
    """Mass read in air brought to vacuum, where the certificate or the sample calls for it."""
    standard = inputs.standard if recipe_for(inputs).heat_capacity else None
    if standard is not None and standard.basis == "air":
        words = "The certificate is for mass weighed in air, as the balance reads."
        return Correction("buoyancy", words, False, 1.0, size_percent=0.0)
    sample = standard or (inputs.substance if recipe_for(inputs).combustion else None)
    density = None if sample is None else sample.density_g_per_cm3
    if density is None:
        return Correction("buoyancy", "The density of the charge is not given.", False)
    factor = heat.buoyancy_factor(density)
    words = f"Mass in vacuum over mass read in air, density {density:g} g/cm³."
    return _factor("buoyancy", words, is_on(inputs, "buoyancy"), factor)


def _standard_factors(inputs: RunInputs, final_c: float | None) -> list[Correction]:
    """What brings the standard's value to this bomb: from its certificate, or from literature."""
    standard = inputs.standard if recipe_for(inputs).heat_capacity else None
    if standard is None or standard.literature is None:
        return [_conditions(inputs, final_c)]
    return [_to_bomb(inputs, standard, standard.literature)]


def _conditions(inputs: RunInputs, final_c: float | None) -> Correction:
    """The certificate's conditions against this run's."""
    factor = None
    if recipe_for(inputs).heat_capacity and inputs.charge_g is not None and final_c is not None:
        factor = heat.conditions_factor(inputs.bomb, inputs.charge_g, final_c)
    if factor is None:
        words = "Only for a standard, with bomb volume, water, oxygen pressure and charge given."
        return Correction("conditions", words, False)
    words = "Oxygen, charge and water per litre and temperature against the certificate's."
    return _factor("conditions", words, is_on(inputs, "conditions"), factor)


def _standard_state(inputs: RunInputs, substance: Substance, dcu_kj_per_mol: float) -> Correction:
    """The estimate that brings the bomb's value to the standard state."""
    equation = balance(substance.formula, substance.phase)
    excess = _excess(inputs, equation, dcu_kj_per_mol)
    if excess is None:
        return Correction("standard_state", NO_STANDARD_STATE, False)
    words = "An estimate (Washburn's approximate formula, from memory)."
    return _factor("standard_state", words, is_on(inputs, "standard_state"), 1.0 - excess)


def _to_bomb(inputs: RunInputs, standard: Standard, literature: Conversion) -> Correction:
    """The same estimate the other way: a literature value is one of the standard state."""
    excess = _excess(inputs, balance(standard.formula or ""), literature.dcu_kj_per_mol)
    words = f"The value is from literature, at the standard state: {literature.steps}."
    if excess is None:
        return Correction("standard_state", f"{words} {NO_STANDARD_STATE}", False)
    words += " To the bomb: an estimate (Washburn's approximate formula, from memory)."
    applied = is_on(inputs, "standard_state")
    return _factor("standard_state", words, applied, 1.0 / (1.0 - excess))


def _excess(inputs: RunInputs, equation: Equation, dcu_kj_per_mol: float) -> float | None:
    """Relative excess of the bomb's value over the standard state; None where there is none."""
    pressure = inputs.bomb.oxygen_atm
    if pressure is None or dcu_kj_per_mol >= 0:
        return None
    return standard_state_excess(equation, pressure, dcu_kj_per_mol)


def _factor(name: str, words: str, applied: bool, factor: float) -> Correction:
    return Correction(name, words, applied, factor, size_percent=100.0 * (factor - 1.0))


def _heat_size(inputs: RunInputs, name: str, q: float | None, released: float | None) -> Correction:
    words = "Not entered." if q is None else f"{q:.1f} J released beside the charge's heat."
    if name == "aids" and inputs.aids:
        each = (f"{a.name} {a.mass_g:g} g · {a.j_per_g:g} J/g" for a in inputs.aids)
        words += f" {'; '.join(each)}."
    size = None if q is None or released is None else 100.0 * q / released
    return Correction(name, words, q is not None and is_on(inputs, name), size_percent=size)


def _contents(inputs: RunInputs, run_capacity: float | None) -> Correction:
    """The charge's own heat capacity, with its size; commonly neglected."""
    applied = is_on(inputs, "contents")
    if inputs.charge_g is None:
        return Correction("contents", "Heat capacity of the charge; no charge is given.", False)
    own = heat.contents_j_per_k(inputs.charge_g)
    done = "counted apart from the calorimeter's" if applied else "neglected"
    words = f"Heat capacity of the charge, about {own:.2g} J/K for a solid, {done}."
    size = None if run_capacity is None else 100.0 * own / run_capacity
    return Correction("contents", words, applied, j_per_k=own, size_percent=size)

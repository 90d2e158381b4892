"""The one door: everything known about a firing in, every number the run page shows out."""

from dataclasses import asdict, dataclass
from typing import Any

import reduction
from reduction import sources
from reduction.budget import Budget, run_budgets
from reduction.curve import CurveResult, Values, reduce_curve
from reduction.energy import Correction, Energy, reduce_energy
from reduction.inputs import RunInputs, Standard
from reduction.notes import Note, Thresholds
from reduction.periods import find_periods
from reduction.recipes import recipe_for
from reduction.remarks import curve_notes, field_notes, hide_the_curve, reading_notes
from reduction.remarks.certainty import certainty_notes
from reduction.sources import Constant
from reduction.thermogram import Periods, Thermogram

__all__ = ["Reduction", "RunInputs", "reduce_run"]


@dataclass(frozen=True)
class Reduction:
    """The result of one run, all digits kept. `as_dict` gives it in plain JSON types."""

    kind: str
    version: str
    periods: Periods
    drift: dict[str, Values]
    rise: dict[str, Values]
    rise_used: Values
    time_to_95_percent_s: float | None
    heat: dict[str, float | None]
    corrections: tuple[Correction, ...]
    heat_capacity: dict[str, float] | None
    combustion: dict[str, object] | None
    constants: tuple[Constant, ...]
    notes: tuple[Note, ...]
    budget: dict[str, Budget]

    def as_dict(self) -> dict[str, Any]:
        """Plain dictionaries, lists, text and numbers."""
        plain = asdict(self)
        for name in ("corrections", "constants", "notes"):
            plain[name] = list(plain[name])
        for name in ("found", "why"):
            plain["periods"][name] = list(plain["periods"][name])
        plain["budget"] = {name: budget.as_dict() for name, budget in self.budget.items()}
        return plain


def reduce_run(inputs: RunInputs, thresholds: Thresholds | None = None) -> Reduction:
    """Reduce one run: periods, rise by every method, energy balance, result, notes.

    Returns whatever can be computed; what cannot is None beside its reason. Raises ReductionError
    when nothing can: fewer than two readings before or after the firing, or no firing to be found.
    """
    limits = thresholds or Thresholds()
    thermogram = Thermogram.of(inputs.readings.time_s, inputs.readings.temperature_c)
    periods = find_periods(
        thermogram,
        inputs.fired_at_s,
        inputs.settled_at_s,
        inputs.fore_from_s,
        inputs.after_until_s,
        limits,
    )
    curve = reduce_curve(thermogram, periods)
    rise_used, final_c = _rise_used(curve, inputs.method.rise), _final_c(thermogram, periods, curve)
    rise_k = rise_used["rise_k"] if isinstance(rise_used["rise_k"], float) else None
    energy = reduce_energy(inputs, rise_k, final_c)
    wire_burned = inputs.fuse is not None and inputs.fuse.used > 0
    other_clock = None if inputs.fired_by_clock == "logger" else inputs.fired_by_clock
    notes = reading_notes(inputs.readings.time_s, inputs.readings.temperature_c, limits)
    if not hide_the_curve(notes):
        notes += curve_notes(thermogram, periods, curve, limits, wire_burned, other_clock)
        notes += certainty_notes(curve, limits, inputs.method.rise)
    notes += field_notes(inputs, energy, rise_k, limits)
    return Reduction(
        kind=inputs.kind,
        version=reduction.__version__,
        periods=periods,
        drift=curve.drift,
        rise=curve.rise,
        rise_used=rise_used,
        time_to_95_percent_s=curve.time_to_95_percent_s,
        heat=energy.heat,
        corrections=energy.corrections,
        heat_capacity=energy.heat_capacity,
        combustion=energy.combustion,
        constants=_constants(inputs, energy),
        notes=tuple(notes),
        budget=run_budgets(inputs, rise_used, final_c),
    )


def _rise_used(curve: CurveResult, method: str) -> Values:
    rise = curve.rise[method]
    return {"method": method} | {key: rise[key] for key in ("rise_k", "u_k", "dof")}


def _final_c(thermogram: Thermogram, periods: Periods, curve: CurveResult) -> float:
    """The temperature [°C] at the end of the main period, or at the last reading."""
    if curve.rated is None or periods.settled_at_s is None:
        return float(thermogram.temperature_c[-1])
    return float(curve.rated.after.at(curve.rated.settled_s))


def _constants(inputs: RunInputs, energy: Energy) -> tuple[Constant, ...]:
    """The constants this run made use of, with their sources."""
    applied = {correction.name for correction in energy.corrections if correction.applied}
    used: list[Constant] = []
    if "bucket_water" in applied:
        used.append(sources.WATER_J_PER_G_K)
    if "buoyancy" in applied:
        used += [sources.AIR_G_PER_CM3, sources.WEIGHTS_G_PER_CM3]
    if "conditions" in applied:
        used.append(sources.CONDITIONS_FACTOR)
    if "standard_state" in applied:
        used += [sources.STANDARD_STATE, sources.CALORIE_J]
    if "contents" in applied:
        used.append(sources.BENZOIC_ACID_J_PER_G_K)
    used += _entered(inputs)
    if energy.combustion is not None and inputs.substance is not None:
        used += [sources.GAS_CONSTANT, sources.REFERENCE_TEMPERATURE_K]
        used += [*sources.FORMATION_KJ_PER_MOL.values(), *sources.ATOMIC_WEIGHTS.values()]
    return tuple(used)


def _entered(inputs: RunInputs) -> list[Constant]:
    """Values of lots and certificates entered with the run."""
    entered: list[Constant] = []
    recipe = recipe_for(inputs)
    if recipe.heat_capacity and inputs.standard is not None:
        entered += _standard_value(inputs.standard)
    if recipe.combustion and inputs.heat_capacity is not None:
        origin = inputs.heat_capacity.origin or "entered with the run"
        value = inputs.heat_capacity.j_per_k
        entered.append(Constant("heat capacity of the bench", value, "J/K", origin))
    if inputs.fuse is not None:
        entered.append(Constant("fuse wire", inputs.fuse.value, inputs.fuse.basis, "fuse lot"))
    if inputs.thread is not None:
        value = inputs.thread.j_per_g
        entered.append(Constant("cotton thread", value, "J/g", "entered with the run"))
    if inputs.acid is not None:
        value = inputs.acid.kj_per_mol
        entered.append(Constant("nitric acid formed", value, "kJ/mol", "entered with the run"))
    return entered


def _standard_value(standard: Standard) -> list[Constant]:
    """The value of the standard: its certificate's, or the literature's with its conversion."""
    name, value, literature = standard.name, standard.j_per_g, standard.literature
    if literature is None:
        return [Constant(f"{name}, certificate", value, "J/g", "certificate of the lot")]
    molar, symbol = standard.dch_kj_per_mol, "Δ_cH"
    if molar is None:
        molar, symbol = literature.dcu_kj_per_mol, "Δ_cU"
    published = Constant(f"{name}, {symbol}", molar, "kJ/mol", standard.citation or "")
    converted = Constant(f"{name}, heat of combustion", value, "J/g", literature.steps)
    return [published, converted, sources.GAS_CONSTANT, sources.REFERENCE_TEMPERATURE_K]

"""What the record knows of a run, as a student's own figures are followed through it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reduction import sources
from reduction.combustion import Equation, balance
from reduction.errors import InputError
from reduction.inputs import RunInputs
from reduction.thermogram import Thermogram

Array = NDArray[np.float64]

SHARES = (0.37, 0.5, 0.60, 0.63, 0.632)
"""Shares of the rise a crossing is taken at, rightly (from 0.60 on) or by mistake."""
FEWEST_BETWEEN = 3
"""Readings between the firing and the settled moment without which no curve can be followed."""
CROSSING_METHODS = ("fraction", "fraction_060", "fraction_by_hand", "equal_areas")


@dataclass(frozen=True)
class Line:
    """A drift line by its middle [s, °C], the length of its period [s] and what its slope is sure
    to [K/s]."""

    at_s: float
    at_c: float
    span_s: float
    u_k_per_s: float


@dataclass(frozen=True)
class Curve:
    """The thermogram as a ruler meets it: two lines, the bounds, where shares of the rise lie."""

    fore: Line
    after: Line
    fired_s: float
    settled_s: float
    lasts_s: float
    moments: dict[float, float]
    pace_k_per_s: float
    interval_s: float
    end_to_end_k: float
    first_c: float
    top_c: float


@dataclass(frozen=True)
class Beside:
    """Figures a slip may have taken in place of the right one: of the sheet, and of other runs.

    `capacities_too` may rightly be used as well, as the mean of the group's own hand figures.
    """

    gross_g: float | None = None
    tare_g: float | None = None
    fuse_before: float | None = None
    fuse_left: float | None = None
    charges_g: tuple[float, ...] = ()
    rises_k: tuple[float, ...] = ()
    capacities_j_per_k: tuple[float, ...] = ()
    capacities_too: tuple[float, ...] = ()


@dataclass(frozen=True, eq=False)
class Facts:
    """Our value of every step, and what the energy balance takes beside the steps."""

    inputs: RunInputs
    ours: dict[str, float]
    curve: Curve | None
    crossings: tuple[float, ...]
    rise_u_k: float
    per_gram_j: float
    mass_factor: float
    other_heat_j: float
    extra_j_per_k: float
    state_factor: float
    equation: Equation | None
    beside: Beside = field(default_factory=Beside)


def facts_of(inputs: RunInputs, outputs: Mapping[str, Any], beside: Beside | None = None) -> Facts:
    """Read a run and the outputs of its reduction (`Reduction.as_dict`)."""
    heat, capacity = outputs["heat"], outputs.get("heat_capacity") or {}
    factors = {row["name"]: row["factor"] for row in outputs["corrections"] if row["applied"]}
    nominal = capacity.get("at_nominal_water_j_per_k")
    charged = heat["charge_j"] if inputs.charge_g else None
    return Facts(
        inputs=inputs,
        ours=_ours(inputs, outputs),
        curve=_curve(inputs, outputs),
        crossings=_crossings(outputs, inputs.method.rise),
        rise_u_k=outputs["rise_used"].get("u_k") or 0.0,
        per_gram_j=0.0 if charged is None else charged / (inputs.charge_g or 1.0),
        mass_factor=factors.get("buoyancy") or 1.0,
        other_heat_j=sum(
            heat[f"{name}_j"] or 0.0 for name in ("thread", "aids") if name in factors
        ),
        extra_j_per_k=0.0 if nominal is None else capacity["j_per_k"] - nominal,
        state_factor=factors.get("standard_state") or 1.0,
        equation=_equation(inputs),
        beside=beside or Beside(),
    )


def _ours(inputs: RunInputs, outputs: Mapping[str, Any]) -> dict[str, float]:
    drift, heat = outputs["drift"], outputs["heat"]
    capacity, burned = outputs.get("heat_capacity") or {}, outputs.get("combustion") or {}
    used = outputs["rise"].get(outputs["rise_used"]["method"]) or {}
    crossing = used.get("at_s") or (outputs["rise"].get("fraction") or {}).get("at_s")
    nominal = capacity.get("at_nominal_water_j_per_k")
    found = {
        "fore_drift": (drift.get("fore") or {}).get("slope_k_per_s"),
        "after_drift": (drift.get("after") or {}).get("slope_k_per_s"),
        "crossing": crossing,
        "rise": outputs["rise_used"].get("rise_k"),
        "charge": inputs.charge_g,
        "fuse": _counted(outputs, "fuse", heat),
        "acid": _counted(outputs, "acid", heat),
        "capacity_used" if burned else "capacity": nominal,
        "du": burned.get("du_j_per_g"),
        "molar_mass": burned.get("molar_mass_g_per_mol"),
        "dcu": burned.get("dcu_kj_per_mol"),
        "dn": burned.get("dn_gas"),
        "rt": rt_kj_per_mol() if burned.get("dn_gas") is not None else None,
        "dch": burned.get("dch_kj_per_mol"),
    }
    return {key: value for key, value in found.items() if value is not None}


def rt_kj_per_mol() -> float:
    """`R·T` at 298.15 K [kJ/mol]."""
    return sources.GAS_CONSTANT.value * sources.REFERENCE_TEMPERATURE_K.value / 1000.0


def _counted(outputs: Mapping[str, Any], name: str, heat: Mapping[str, Any]) -> float | None:
    """A heat where the course counts it; None where it is off or was not entered."""
    applied = any(row["name"] == name and row["applied"] for row in outputs["corrections"])
    return heat[f"{name}_j"] if applied else None


def _crossings(outputs: Mapping[str, Any], method: str) -> tuple[float, ...]:
    """Where a crossing may rightly lie: by the course's own method, else by any of them."""
    methods = (method,) if method in CROSSING_METHODS else CROSSING_METHODS
    moments = [(outputs["rise"].get(name) or {}).get("at_s") for name in methods]
    return tuple(at for at in moments if at is not None)


def _equation(inputs: RunInputs) -> Equation | None:
    if inputs.substance is None:
        return None
    try:
        return balance(inputs.substance.formula, inputs.substance.phase)
    except InputError:
        return None


def _curve(inputs: RunInputs, outputs: Mapping[str, Any]) -> Curve | None:
    """None where the two lines are not both there, or too few readings lie between them."""
    bounds, drift = outputs["periods"], outputs["drift"]
    lines = [drift.get(name) or {} for name in ("fore", "after")]
    fired, settled = bounds["fired_at_s"], bounds["settled_at_s"]
    if settled is None or any(line.get("slope_k_per_s") is None for line in lines):
        return None
    read = Thermogram.of(inputs.readings.time_s, inputs.readings.temperature_c)
    inside = (read.time_s >= fired) & (read.time_s <= settled)
    if np.count_nonzero(inside) < FEWEST_BETWEEN:
        return None
    moments, pace, interval = _climb(read.time_s[inside], read.temperature_c[inside], lines)
    ends = np.interp([fired, settled], read.time_s, read.temperature_c)
    return Curve(
        fore=_line(lines[0], fired - bounds["fore_from_s"]),
        after=_line(lines[1], bounds["after_until_s"] - settled),
        fired_s=fired,
        settled_s=settled,
        lasts_s=float(read.time_s[-1] - read.time_s[0]),
        moments=moments,
        pace_k_per_s=pace,
        interval_s=interval,
        end_to_end_k=float(ends[1] - ends[0]),
        first_c=float(ends[0]),
        top_c=float(read.temperature_c.max()),
    )


def _climb(
    time: Array, temperature: Array, lines: list[dict[str, Any]]
) -> tuple[dict[float, float], float, float]:
    """When [s] each share of the rise is reached; at 0.60 the pace [K/s] and interval [s]."""
    lower = _along(lines[0], time)
    share = (temperature - lower) / (_along(lines[1], time) - lower)
    climbing = np.maximum.accumulate(share)
    moments = {at: float(np.interp(at, climbing, time)) for at in SHARES}
    i = int(np.clip(np.searchsorted(time, moments[0.60]), 1, time.size - 1))
    interval = max(float(time[i] - time[i - 1]), 1e-3)  # two readings may share a moment
    return moments, float(temperature[i] - temperature[i - 1]) / interval, interval


def _along(line: Mapping[str, Any], time: Array) -> Array:
    return np.asarray(line["at_c"] + line["slope_k_per_s"] * (time - line["at_s"]))


def _line(line: Mapping[str, Any], span_s: float) -> Line:
    """`u = s·√12/(L·√n)`, the standard uncertainty of a slope through n even readings over L."""
    scatter = line.get("residual_sd_k") or 0.0
    u = scatter * float(np.sqrt(12.0 / max(line["n"], 1))) / max(span_s, 1.0)
    return Line(line["at_s"], line["at_c"], max(span_s, 1.0), u)

"""One firing: what the group writes on the sheet, and the thermogram that belongs to it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from reduction import sources
from reduction.combustion import balance, combustion_enthalpy, molar_mass
from reduction.heat import buoyancy_factor
from reduction.simulate import Firing, thermogram

from ..models import FuseLot, Substance, TitrantLot
from .scenario import BenchTruth

NOMINAL_WATER_G, BUCKET_G, FIRED_AT_S, END_S = 2000.0, 812.4, 300.0, 1200.0
TYPED_CADENCE = ((30.0, FIRED_AT_S), (15.0, 780.0), (30.0, END_S))
LOGGED_CADENCES = (5.0, 10.0, 5.0, 10.0, 5.0, 2.0)
RELEASES = (((46.0,), None), ((38.0, 12.0), None), ((34.0, 78.0), 0.2))


@dataclass(frozen=True)
class Charge:
    """What is burned: its heat as weighed in air, and how much of it is pressed."""

    j_per_g: float
    low_g: float
    high_g: float


def standard_charge(value_j_per_g: float, density_g_per_cm3: float) -> Charge:
    return Charge(value_j_per_g * buoyancy_factor(density_g_per_cm3), 0.95, 1.03)


def unknown_charge(substance: Substance, most_g: float) -> Charge:
    """The heat that the literature value gives, per gram."""
    equation = balance(substance.formula, substance.phase)
    enthalpy = float(substance.literature_dch_kj_per_mol or 0)
    energy = enthalpy - combustion_enthalpy(0.0, equation.dn_gas)
    return Charge(-1000 * energy / molar_mass(substance.formula), 0.8 * most_g, 0.97 * most_g)


@dataclass(frozen=True)
class Wire:
    """The fuse and titrant a bench works with."""

    fuse: FuseLot
    before: str
    titrant: TitrantLot


@dataclass(frozen=True)
class Burn:
    """The sheet's figures as they will be written, and the readings as they will be read."""

    before: dict[str, str]
    after: dict[str, str]
    times_s: list[float]
    temperatures: list[str] = field(repr=False)
    fired_at: str = f"{FIRED_AT_S:g}"

    def rows(self) -> Iterable[tuple[float, str]]:
        return zip(self.times_s, self.temperatures, strict=True)


@dataclass(frozen=True)
class Afternoon:
    """What all firings of a group's afternoon have in common."""

    bench: BenchTruth
    heat_capacity_j_per_k: float
    wire: Wire
    scatter: float
    is_typed: bool


def draw_burn(
    rng: np.random.Generator,
    afternoon: Afternoon,
    charge: Charge,
    *,
    lights: bool = True,
    water_g: float = NOMINAL_WATER_G,
    mass_g: float | None = None,
    lost: float = 0.0,
) -> Burn:
    """A firing whose written figures and true heat capacity give its thermogram.

    ``lost`` is the share of the heat that the thermometer does not see.
    """
    mass = round(mass_g or rng.uniform(charge.low_g, charge.high_g), 4)
    water = round(water_g + rng.normal(0, 0.8), 1)
    left, titre = _left(rng, afternoon.wire), _titre(rng, afternoon.wire)
    heat = mass * charge.j_per_g + _ancillary_j(afternoon.wire, left, titre)
    capacity = afternoon.heat_capacity_j_per_k
    capacity += (water - NOMINAL_WATER_G) * sources.WATER_J_PER_G_K.value
    rise = heat * (1 - lost) / capacity / (1 + rng.normal(0, afternoon.scatter))
    if not lights:
        rise = rng.uniform(0, 0.004)
    firing = _firing(rng, afternoon, rise)
    times, temperatures = thermogram(firing)
    written = [f"{value:.{afternoon.bench.decimals}f}" for value in temperatures]
    before = _before(rng, afternoon, mass, water, firing)
    return Burn(before, _after(rng, left, titre), times.tolist(), written)


def _left(rng: np.random.Generator, wire: Wire) -> str:
    """Wire left in pieces, in the unit and to the digits of its lot."""
    share = rng.uniform(0.08, 0.3)
    decimals = len(wire.before.partition(".")[2])
    return f"{share * float(wire.before):.{decimals}f}"


def _titre(rng: np.random.Generator, wire: Wire) -> str:
    return f"{rng.uniform(0.40, 0.75) / float(wire.titrant.mol_per_l):.1f}"


def _ancillary_j(wire: Wire, left: str, titre: str) -> float:
    fuse = (float(wire.before) - float(left)) * float(wire.fuse.value)
    acid = float(titre) * float(wire.titrant.mol_per_l) * sources.NITRIC_ACID_KJ_PER_MOL.value
    return fuse + acid


def _firing(rng: np.random.Generator, afternoon: Afternoon, rise_k: float) -> Firing:
    """The surroundings lie below the start, between, or above the end: drifts of both signs."""
    bench, start = afternoon.bench, rng.uniform(22.0, 24.6)
    release, slow_share = RELEASES[rng.integers(len(RELEASES))]
    logged = LOGGED_CADENCES[rng.integers(len(LOGGED_CADENCES))]
    return Firing(
        rise_k=rise_k,
        start_c=start,
        convergence_c=start + rng.uniform(-1.2, 3.4),
        leak_per_s=bench.leak_per_s * rng.uniform(0.9, 1.1),
        stirring_k_per_s=rng.uniform(1e-6, 6e-6),
        release_s=tuple(constant * rng.uniform(0.9, 1.1) for constant in release),
        slow_share=slow_share,
        fired_at_s=FIRED_AT_S,
        end_s=END_S,
        cadence_s=TYPED_CADENCE if afternoon.is_typed else logged,
        noise_k=rng.uniform(0.0003, 0.0008),
        resolution_k=float(bench.thermometer_step_k),
        seed=int(rng.integers(2**31)),
    )


def _before(
    rng: np.random.Generator, afternoon: Afternoon, mass: float, water: float, firing: Firing
) -> dict[str, str]:
    tare, wire = rng.uniform(11.8, 13.2), afternoon.wire
    written_tare = f"{tare:.4f}"
    return {
        "fuse_lot": wire.fuse.code,
        "titrant_lot": wire.titrant.code,
        "charge_gross_g": f"{float(written_tare) + mass:.4f}",
        "charge_tare_g": written_tare,
        "fuse_before": wire.before,
        "water_ml": "1.0",
        "flushes": "2",
        "oxygen_atm": f"{25 + rng.integers(-1, 2)}",
        "leak_check": "tight",
        "bucket_gross_g": f"{BUCKET_G + water:.1f}",
        "bucket_tare_g": f"{BUCKET_G:.1f}",
        "room_c": f"{rng.uniform(20.5, 22.5):.1f}",
        "jacket_c": f"{firing.convergence_c:.1f}",
    }


def _after(rng: np.random.Generator, left: str, titre: str) -> dict[str, str]:
    soot = "trace" if rng.uniform() < 0.06 else "none"
    return {"soot": soot, "fuse_left": left, "titre_ml": titre}

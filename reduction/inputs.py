"""What goes into the reduction of one run: the run file as frozen, checked records.

Masses in g, times in s, temperatures in °C, energies in J unless the key says otherwise. What is
not known is left out or null; nothing is guessed here.
"""

# ruff: noqa: RUF009 -- the calls in these class bodies return dataclass fields, not values

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reduction import sources
from reduction.combustion import Conversion, per_gram
from reduction.errors import InputError
from reduction.records import (
    choice,
    flag,
    free,
    part,
    parts,
    quantity,
    read_record,
    record_dict,
    series,
    text,
)
from reduction.table import read_table
from reduction.uncertainties import InputUncertainties
from reduction.water import water_density

KINDS = ("standardization", "unknown", "practice", "blank")
RISE_METHODS = (
    "fraction",
    "fraction_060",
    "fraction_by_hand",
    "equal_areas",
    "regnault_pfaundler",
    "heat_balance",
    "difference",
)


@dataclass(frozen=True, eq=False)
class Readings:
    """Times and temperatures as recorded, any order, any interval; null is a missed slot."""

    time_s: NDArray[np.float64] = series("s")
    temperature_c: NDArray[np.float64] = series("°C")

    def __post_init__(self) -> None:
        if len(self.time_s) != len(self.temperature_c):
            raise InputError(
                "readings",
                f"{len(self.time_s)} times but {len(self.temperature_c)} temperatures; "
                "expected one temperature for each time.",
            )


@dataclass(frozen=True)
class Fuse:
    """Fuse wire burned: `used` is what there was before less what was left, in cm or g.

    A negative `used` is kept, noted, and left out of the heat.
    """

    basis: str = choice("J/cm", "J/g")
    value: float = quantity("J/cm or J/g", at_least=0)
    used: float = quantity("cm or g")
    u: float | None = quantity("J/cm or J/g", at_least=0, optional=True)


@dataclass(frozen=True)
class Thread:
    """Cotton thread burned with the charge."""

    mass_g: float = quantity("g", at_least=0)
    j_per_g: float = quantity("J/g", above=0, default=sources.COTTON_J_PER_G.value)


@dataclass(frozen=True)
class Acid:
    """Nitric acid found in the washings by titration."""

    titre_ml: float = quantity("mL", at_least=0)
    titrant_mol_per_l: float = quantity("mol/L", above=0)
    kj_per_mol: float = quantity("kJ/mol", above=0, default=sources.NITRIC_ACID_KJ_PER_MOL.value)


@dataclass(frozen=True)
class Aid:
    """A combustion aid: capsule, oil, added standard."""

    name: str = text()
    mass_g: float = quantity("g", at_least=0)
    j_per_g: float = quantity("J/g", at_least=0)


@dataclass(frozen=True)
class Bomb:
    """The vessel as filled."""

    volume_ml: float | None = quantity("mL", above=0, optional=True)
    water_ml: float | None = quantity("mL", at_least=0, optional=True)
    oxygen_atm: float | None = quantity("atm", above=0, optional=True)


@dataclass(frozen=True)
class BucketWater:
    """Bucket water by volume [mL] and temperature [°C], in place of its mass."""

    volume_ml: float = quantity("mL", above=0)
    temperature_c: float = quantity("°C")

    @property
    def mass_g(self) -> float:
        """`m = V·ρ(t)` [g], the true mass; a balance in air reads 0.1 % less."""
        return self.volume_ml * water_density(self.temperature_c)


@dataclass(frozen=True)
class AfterRun:
    """What was found when the vessel was opened."""

    soot: str | None = choice("none", "trace", "much", default=None)
    residue_mg: float | None = quantity("mg", at_least=0, optional=True)


@dataclass(frozen=True)
class Standard:
    """The standard substance: the value of its certificate, or a cited literature value.

    `basis` is the mass the value is stated on. In place of `j_per_g` (> 0) a literature Δ_cH or
    Δ_cU (< 0, per mole, products CO2(g) and H2O(l)) may stand, with formula and citation: `j_per_g`
    is then what it converts to.
    """

    # Always a number once read: converted in __post_init__ where only a literature value is given.
    j_per_g: float = quantity("J/g", above=0, optional=True)
    name: str = text(default="benzoic acid")
    formula: str | None = text(optional=True)
    u_j_per_g: float | None = quantity("J/g", at_least=0, optional=True)
    basis: str = choice("vacuum", "air", default="vacuum")
    density_g_per_cm3: float | None = quantity("g/cm³", above=0.01, optional=True)
    conditions: dict[str, object] | None = free()
    dch_kj_per_mol: float | None = quantity("kJ/mol", optional=True)
    dcu_kj_per_mol: float | None = quantity("kJ/mol", optional=True)
    u_kj_per_mol: float | None = quantity("kJ/mol", at_least=0, optional=True)
    citation: str | None = text(optional=True)

    def __post_init__(self) -> None:
        literature = self.literature
        if literature is not None:
            if self.j_per_g is None:
                object.__setattr__(self, "j_per_g", literature.j_per_g)
            if self.u_j_per_g is None and self.u_kj_per_mol is not None:
                u = 1000.0 * self.u_kj_per_mol / literature.molar_mass
                object.__setattr__(self, "u_j_per_g", u)
        elif self.j_per_g is None:
            raise InputError(
                "standard.j_per_g",
                "is missing; expected the certificate's J/g, or a literature dch_kj_per_mol or "
                "dcu_kj_per_mol with formula and citation.",
            )

    @property
    def literature(self) -> Conversion | None:
        """The literature value and what it converts to; None for a certificate."""
        dch, dcu = self.dch_kj_per_mol, self.dcu_kj_per_mol
        if dch is None and dcu is None:
            return None
        if (dch is not None and dcu is not None) or not self.formula or not self.citation:
            raise InputError(
                "standard",
                "a literature value is one of dch_kj_per_mol and dcu_kj_per_mol, with the formula "
                "and the citation beside it.",
            )
        return per_gram(self.formula, dch_kj_per_mol=dch, dcu_kj_per_mol=dcu)


@dataclass(frozen=True)
class HeatCapacity:
    """The approved heat capacity an unknown is reduced with, at the nominal bucket water.

    `u_j_per_k` is its standard uncertainty, from n replicates `s/√n` with `dof` n − 1.
    """

    j_per_k: float = quantity("J/K", above=0)
    u_j_per_k: float | None = quantity("J/K", at_least=0, optional=True)
    dof: float | None = quantity("degrees of freedom", at_least=1, optional=True)
    origin: str | None = text(optional=True, key="from")


@dataclass(frozen=True)
class Literature:
    """A published enthalpy of combustion with its citation."""

    dch_kj_per_mol: float = quantity("kJ/mol")
    citation: str = text()
    u: float | None = quantity("kJ/mol", at_least=0, optional=True)


@dataclass(frozen=True)
class Substance:
    """What was burned; absent while its identity is hidden."""

    name: str = text()
    formula: str = text()
    phase: str = choice("s", "l", "g", default="s")
    density_g_per_cm3: float | None = quantity("g/cm³", above=0.01, optional=True)
    literature: Literature | None = part(Literature)


@dataclass(frozen=True)
class Corrections:
    """Which corrections are applied; each is shown with its size either way."""

    bucket_water: bool = flag(True)
    buoyancy: bool = flag(True)
    conditions: bool = flag(False)
    fuse: bool = flag(True)
    thread: bool = flag(True)
    acid: bool = flag(True)
    aids: bool = flag(True)
    standard_state: bool = flag(False)
    contents: bool = flag(False)


@dataclass(frozen=True)
class Method:
    """How the course reduces its runs."""

    rise: str = choice(*RISE_METHODS, default="regnault_pfaundler")
    corrections: Corrections = part(Corrections, optional=False, default_factory=Corrections)


@dataclass(frozen=True, eq=False)
class RunInputs:
    """Everything known about one firing (the documented run file)."""

    kind: str = choice(*KINDS)
    readings: Readings = part(Readings, optional=False)
    fired_at_s: float | None = quantity("s", optional=True)
    settled_at_s: float | None = quantity("s", optional=True)
    fore_from_s: float | None = quantity("s", optional=True)
    after_until_s: float | None = quantity("s", optional=True)
    fired_by_clock: str | None = choice("logger", "watch", "pc", default=None)
    charge_g: float | None = quantity("g", above=0, optional=True)
    fuse: Fuse | None = part(Fuse)
    thread: Thread | None = part(Thread)
    acid: Acid | None = part(Acid)
    aids: tuple[Aid, ...] = parts(Aid)
    bucket_water_g: float | None = quantity("g", above=0, optional=True)
    bucket_water: BucketWater | None = part(BucketWater)
    nominal_water_g: float | None = quantity("g", above=0, optional=True)
    bomb: Bomb = part(Bomb, optional=False, default_factory=Bomb)
    standard: Standard | None = part(Standard)
    heat_capacity: HeatCapacity | None = part(HeatCapacity)
    substance: Substance | None = part(Substance)
    after: AfterRun = part(AfterRun, optional=False, default_factory=AfterRun)
    method: Method = part(Method, optional=False, default_factory=Method)
    uncertainties: InputUncertainties = part(
        InputUncertainties, optional=False, default_factory=InputUncertainties
    )
    comment: str | None = field(default=None, metadata={"read": lambda value, path: str(value)})

    @classmethod
    def from_dict(cls, data: object, base_dir: Path | str | None = None) -> "RunInputs":
        """Read a run file; `readings_file` is taken relative to `base_dir`.

        Raises InputError naming the field that is missing, unknown or out of its range.
        """
        if isinstance(data, Mapping) and "readings_file" in data:
            data = _with_readings(data, base_dir)
        return _converted(read_record(cls, data))

    def as_dict(self) -> dict[str, Any]:
        """The run file again, in plain JSON types."""
        plain: dict[str, Any] = record_dict(self)
        return plain


def _converted(inputs: RunInputs) -> RunInputs:
    """The inputs with the mass of bucket water given by volume; two values of one must agree."""
    water, standard = inputs.bucket_water, inputs.standard
    if standard is not None and (literature := standard.literature) is not None:
        _agree("standard.j_per_g", standard.j_per_g, literature.j_per_g, "the literature value")
    if water is None:
        return inputs
    if inputs.bucket_water_g is None:
        return replace(inputs, bucket_water_g=water.mass_g)
    _agree("bucket_water_g", inputs.bucket_water_g, water.mass_g, "volume and temperature")
    return inputs


def _agree(field_name: str, given: float, converted: float, what: str) -> None:
    if abs(given / converted - 1.0) > 1e-6:
        raise InputError(
            field_name, f"{given:.8g} is given, but {what} make it {converted:.8g}; give only one."
        )


def _with_readings(data: Mapping[str, object], base_dir: Path | str | None) -> dict[str, object]:
    """The run file with its readings read in."""
    name = data["readings_file"]
    if not isinstance(name, str) or base_dir is None or data.get("readings") is not None:
        raise InputError(
            "readings_file",
            "expected the name of a readings file beside the run file, and no readings in it.",
        )
    time_s, temperature_c = read_table(Path(base_dir) / name)
    rest = {key: value for key, value in data.items() if key != "readings_file"}
    return rest | {"readings": {"time_s": time_s, "temperature_c": temperature_c}}

"""What the reduction is given for a run: figures from the sheet, lots, bench and method."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from reduction.inputs import Standard

from ..models import Run, StandardLot, Substance
from .readings import Readings
from .sheets import Sheet


def inputs_of(run: Run, sheet: Sheet, readings: Readings) -> dict[str, Any]:
    """The run file of a run, in the form ``reduction.RunInputs.from_dict`` documents."""
    times, temperatures = readings.as_they_came()
    return {
        "kind": run.kind,
        "readings": {"time_s": times.tolist(), "temperature_c": temperatures.tolist()},
        **{bound: _number(sheet.number(bound)) for bound in _BOUNDS},
        "fired_by_clock": sheet.text("fired_by_clock") or None,
        "charge_g": _number(sheet.charge_g),
        "fuse": _fuse(run, sheet),
        "thread": _thread(run, sheet),
        "acid": _acid(run, sheet),
        "aids": _aids(run, sheet),
        "bucket_water_g": _number(sheet.bucket_water_g),
        "bucket_water": _bucket_by_volume(sheet),
        "nominal_water_g": float(run.configuration.nominal_water_g),
        "bomb": {
            "volume_ml": float(run.configuration.bomb_volume_ml),
            "water_ml": _number(sheet.number("water_ml")),
            "oxygen_atm": _number(sheet.number("oxygen_atm")),
        },
        "standard": _standard(run),
        "heat_capacity": _heat_capacity(run),
        "substance": _substance(run),
        "after": {
            "soot": sheet.text("soot") or None,
            "residue_mg": _number(sheet.number("residue_mg")),
        },
        "method": _method(run),
        "uncertainties": run.method.input_uncertainties,
        "thresholds": run.method.thresholds,
    }


_BOUNDS = ("fore_from_s", "fired_at_s", "settled_at_s", "after_until_s")


def _number(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


def _bucket_by_volume(sheet: Sheet) -> dict[str, float] | None:
    """Water by volume and temperature, where the bucket was not weighed."""
    volume, temperature = sheet.number("bucket_volume_ml"), sheet.number("bucket_temperature_c")
    if sheet.bucket_water_g is not None or volume is None or temperature is None:
        return None
    return {"volume_ml": float(volume), "temperature_c": float(temperature)}


def _fuse(run: Run, sheet: Sheet) -> dict[str, Any] | None:
    lot, used = run.fuse_lot, sheet.fuse_used
    if lot is None or used is None:
        return None
    return {"basis": lot.basis, "value": float(lot.value), "used": float(used)}


def _thread(run: Run, sheet: Sheet) -> dict[str, Any] | None:
    mass = sheet.number("thread_mass_g")
    if mass is None:
        return None
    return {"mass_g": float(mass), "j_per_g": float(run.method.thread_j_per_g)}


def _aids(run: Run, sheet: Sheet) -> list[dict[str, Any]]:
    used = (
        (run.aid_lot, sheet.number("aid_mass_g")),
        (run.second_aid_lot, sheet.number("second_aid_mass_g")),
    )
    return [
        {"name": lot.material, "mass_g": float(mass), "j_per_g": float(lot.j_per_g)}
        for lot, mass in used
        if lot is not None and mass is not None
    ]


def _acid(run: Run, sheet: Sheet) -> dict[str, Any] | None:
    titre, lot = sheet.number("titre_ml"), run.titrant_lot
    if titre is None or lot is None:
        return None
    return {
        "titre_ml": float(titre),
        "titrant_mol_per_l": float(lot.mol_per_l),
        "kj_per_mol": float(run.method.acid_kj_per_mol),
    }


def _standard(run: Run) -> dict[str, Any] | None:
    return None if run.standard_lot is None else standard_of(run.standard_lot)


def standard_of(lot: StandardLot) -> dict[str, Any]:
    """A lot as the reduction takes it: a certificate in J/g, or a cited value per mole."""
    value: dict[str, Any] = {
        "j_per_g": _number(lot.value_j_per_g),
        "u_j_per_g": _number(lot.u_j_per_g),
    }
    if lot.literature:
        value = {
            f"{lot.literature}_kj_per_mol": _number(lot.literature_kj_per_mol),
            "u_kj_per_mol": _number(lot.u_kj_per_mol),
            "citation": lot.certificate,
        }
    return {
        "name": lot.substance.name,
        "formula": lot.substance.formula,
        "basis": lot.basis,
        "density_g_per_cm3": float(lot.density_g_per_cm3),
        "conditions": {"reference": f"{lot.certificate}; {lot.conditions}".rstrip("; ")},
        **value,
    }


def heat_of_standard_j_per_g(lot: StandardLot) -> float:
    """What a lot releases per gram, whichever way its value is given."""
    return Standard(**standard_of(lot)).j_per_g


def _heat_capacity(run: Run) -> dict[str, Any] | None:
    source = run.rests_on
    approval = source.approval if source is not None else None
    if source is None or approval is None:
        return None
    return {
        "j_per_k": approval.c_j_per_k,
        "u_j_per_k": approval.u_j_per_k,
        "dof": approval.dof,
        "from": f"standardization {source.pk}, mean of {approval.n} runs",
    }


def _substance(run: Run) -> dict[str, Any] | None:
    """The burned substance; None for as long as a sample's identity is hidden."""
    if run.sample is None or run.sample.is_hidden:
        return None
    return substance_dict(run.sample.substance)


def substance_dict(substance: Substance) -> dict[str, Any]:
    literature = None
    if substance.literature_dch_kj_per_mol is not None:
        literature = {
            "dch_kj_per_mol": float(substance.literature_dch_kj_per_mol),
            "u": _number(substance.literature_u_kj_per_mol),
            "citation": substance.citation,
        }
    return {
        "name": substance.name,
        "formula": substance.formula,
        "phase": substance.phase,
        "density_g_per_cm3": _number(substance.density_g_per_cm3),
        "literature": literature,
    }


def _method(run: Run) -> dict[str, Any]:
    method = run.method
    switches = (
        "bucket_water",
        "buoyancy",
        "conditions",
        "fuse",
        "thread",
        "acid",
        "aids",
        "standard_state",
        "contents",
    )
    return {
        "rise": method.rise_method,
        "corrections": {name: getattr(method, f"correct_{name}") for name in switches},
    }

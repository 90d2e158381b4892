"""The notes a run gives reason for, found in its readings, its curve and its fields."""

import numpy as np
from numpy.typing import ArrayLike

from reduction.curve import CurveResult
from reduction.energy import Energy
from reduction.inputs import RunInputs
from reduction.notes import Note, Thresholds
from reduction.periods import find_kink
from reduction.recipes import missing_fields, recipe_for
from reduction.remarks import firing, periods, sensor, sheet
from reduction.remarks.clock import clock_notes
from reduction.remarks.evidence import Evidence
from reduction.remarks.slips import find_slips, slip_notes, without
from reduction.thermogram import Periods, Thermogram

__all__ = ["curve_notes", "field_notes", "hide_the_curve", "reading_notes"]

HIDING = {"clock_back", "logger_restarted", "wrong_unit", "not_a_temperature"}


def reading_notes(time_s: ArrayLike, temperature_c: ArrayLike, limits: Thresholds) -> list[Note]:
    """Notes on readings as they came, before they are put in order; NaN marks a blank slot."""
    time = np.asarray(time_s, dtype=float)
    temperature = np.asarray(temperature_c, dtype=float)
    filled = np.isfinite(time) & np.isfinite(temperature)
    unit = sensor.unit_note(temperature[filled], limits)
    notes = clock_notes(np.where(filled, time, np.nan), limits)
    return notes if unit is None else [unit, *notes]


def hide_the_curve(notes: list[Note]) -> bool:
    """Whether the unit or the clock must be set right before the curve can be judged."""
    return not {note.code for note in notes}.isdisjoint(HIDING)


def curve_notes(
    thermogram: Thermogram,
    bounds: Periods,
    curve: CurveResult,
    limits: Thresholds,
    wire_burned: bool = False,
    other_clock: str | None = None,
) -> list[Note]:
    """Notes on the curve, in its order.

    Wire burned tells a fuse from nothing; `other_clock` names the clock of the firing mark where
    it is not that of the readings. Slips are named, then left out of all that follows; two firings
    hide the rest.
    """
    thermogram = _inside(thermogram, bounds)
    slips = find_slips(thermogram, limits)
    smooth = without(thermogram, slips)
    evidence = Evidence(smooth, bounds, curve, find_kink(smooth, limits), limits)
    if (twice := firing.two_firings(evidence)) is not None:
        return [*slip_notes(thermogram, slips), twice]
    found = [
        firing.firing_found(evidence),
        firing.no_ignition(evidence, wire_burned),
        firing.firing_off(evidence, other_clock),
        periods.short_fore(evidence),
        periods.unsteady_fore(evidence),
        periods.no_after(evidence),
        periods.short_after(evidence),
        periods.curved_after(evidence),
        periods.slow_approach(evidence),
        periods.gap(evidence),
        sensor.stirrer_off(evidence) or sensor.stuck(evidence),
        sensor.coarse(evidence),
    ]
    return [*slip_notes(thermogram, slips), *(note for note in found if note is not None)]


def _inside(thermogram: Thermogram, bounds: Periods) -> Thermogram:
    """The readings between the bounds: what lies outside them is no part of the run."""
    time = thermogram.time_s
    inside = (time >= bounds.fore_from_s) & (time <= bounds.after_until_s)
    if inside.all():
        return thermogram
    return Thermogram(time[inside], thermogram.temperature_c[inside])


def field_notes(
    inputs: RunInputs, energy: Energy, rise_k: float | None, limits: Thresholds
) -> list[Note]:
    """Notes on the fields of the run sheet."""
    found: list[Note | None] = [
        sheet.missing(name, words) for name, words in missing_fields(inputs)
    ]
    if rise_k is None:
        found.append(sheet.no_rise(inputs.method.rise))
    if recipe_for(inputs).heat_capacity or recipe_for(inputs).combustion:
        found += [sheet.no_wire(inputs), sheet.no_titre(inputs)]
    found += [
        sheet.more_wire_left(inputs),
        sheet.unburned(inputs, energy, rise_k, limits),
        sheet.other_water(inputs, energy, limits),
        sheet.certificate_basis(inputs),
        sheet.formula(inputs),
    ]
    return [note for note in found if note is not None]

"""The notes a run gives reason for, found in its curve and in its fields."""

import numpy as np

from reduction import heat
from reduction.curvature import after_curvature
from reduction.curve import CurveResult
from reduction.energy import Energy, formula_trouble, is_on
from reduction.inputs import RunInputs
from reduction.notes import BLOCK, NOTE, WARN, Note, Thresholds
from reduction.periods import find_approach, find_kink
from reduction.recipes import missing_fields, recipe_for
from reduction.thermogram import Periods, Thermogram


def curve_notes(
    thermogram: Thermogram,
    periods: Periods,
    curve: CurveResult,
    limits: Thresholds,
    wire_burned: bool = False,
) -> list[Note]:
    """Notes on the readings, in the order of the curve; wire burned tells a fuse from nothing."""
    found = [
        _no_ignition(thermogram, periods, limits, wire_burned),
        _firing_off(thermogram, periods, limits),
        _short_fore(thermogram, periods, limits),
        _no_after(periods),
        _short_after(thermogram, periods, limits),
        _curved_after(thermogram, periods, limits),
        _slow_approach(curve, limits),
        _gap(thermogram, periods, limits),
        _same_time(thermogram),
        _coarse(thermogram, curve, limits),
    ]
    return [note for note in found if note is not None]


def field_notes(
    inputs: RunInputs, energy: Energy, rise_k: float | None, limits: Thresholds
) -> list[Note]:
    """Notes on the fields of the run sheet."""
    found: list[Note | None] = [_missing(name, words) for name, words in missing_fields(inputs)]
    if rise_k is None:
        found.append(_no_rise(inputs.method.rise))
    if recipe_for(inputs).heat_capacity or recipe_for(inputs).combustion:
        found += [_no_wire(inputs), _no_titre(inputs)]
    found += [_other_water(inputs, energy, limits), _certificate_basis(inputs), _formula(inputs)]
    return [note for note in found if note is not None]


def _no_ignition(
    thermogram: Thermogram, periods: Periods, limits: Thresholds, wire_burned: bool
) -> Note | None:
    time, fired = thermogram.time_s, periods.fired_at_s
    before = (time >= periods.fore_from_s) & (time <= fired)
    after = (time > fired) & (time <= fired + limits.ignition_within_s)
    if not after.any():
        return None
    rose = float(thermogram.temperature_c[after].max() - thermogram.temperature_c[before].mean())
    if rose >= limits.ignition_k:
        return None
    if wire_burned and rose >= limits.fuse_only_k:
        return Note(
            "fuse_only",
            BLOCK,
            f"The rise of {rose:.3f} K matches the wire alone. The pellet did not catch.",
            "Wait, vent, and look at the contact between wire and pellet. It counts as a firing.",
        )
    return Note(
        "no_ignition",
        BLOCK,
        f"Temperature rose only {rose:.3f} K after firing. The charge did not light.",
        "Wait, vent, check the fuse contact. This still counts as a firing.",
    )


def _firing_off(thermogram: Thermogram, periods: Periods, limits: Thresholds) -> Note | None:
    kink = find_kink(thermogram, limits)
    fired, allowed = periods.fired_at_s, limits.firing_off_s
    if kink is None or kink.last_still_s - allowed <= fired <= kink.next_s + allowed:
        return None
    return Note(
        "firing_time_off",
        WARN,
        f"The rise starts at {kink.last_still_s:g} s but firing is marked at {fired:g} s.",
        "Which is right? Move the mark, or compare the two clocks.",
    )


def _short_fore(thermogram: Thermogram, periods: Periods, limits: Thresholds) -> Note | None:
    time = thermogram.time_s
    fore = time[(time >= periods.fore_from_s) & (time <= periods.fired_at_s)]
    span = float(np.ptp(fore)) if fore.size else 0.0
    if fore.size >= limits.rating_readings and span >= limits.fore_s:
        return None
    return Note(
        "fore_period_short",
        WARN,
        f"Fore period has {fore.size} readings over {span:g} s.",
        f"At least {limits.rating_readings} readings over {limits.fore_s:g} s are needed for a "
        "drift: read for longer before firing.",
    )


def _no_after(periods: Periods) -> Note | None:
    if periods.settled_at_s is not None:
        return None
    return Note(
        "no_after_period",
        WARN,
        periods.why[-1] if periods.why else "There is no after period.",
        "Only the heat-balance fit can give a rise; the methods with an after line cannot.",
    )


def _short_after(thermogram: Thermogram, periods: Periods, limits: Thresholds) -> Note | None:
    settled, time = periods.settled_at_s, thermogram.time_s
    if settled is None:
        return None
    after = time[(time >= settled) & (time <= periods.after_until_s)]
    span = float(np.ptp(after)) if after.size else 0.0
    if after.size >= limits.rating_readings and span >= limits.after_s:
        return None
    return Note(
        "after_period_short",
        WARN,
        f"After period has {after.size} readings over {span:g} s.",
        f"At least {limits.rating_readings} readings over {limits.after_s:g} s are needed for a "
        "drift: read on for longer, or end the main period earlier.",
    )


def _curved_after(thermogram: Thermogram, periods: Periods, limits: Thresholds) -> Note | None:
    """The after period bends, or by its pace the approach is not over when the period begins."""
    settled = periods.settled_at_s
    if settled is None:
        return None
    edge, curved = after_curvature(thermogram, periods, limits)
    approach = find_approach(thermogram, periods, limits)
    early = approach is not None and approach.missing_at(settled) > 3.0 * approach.matters
    if not curved and not early:
        return None
    ends = f" and the approach ends at about {approach.over_s:.0f} s" if early and approach else ""
    return Note(
        "after_period_curved",
        WARN,
        f"After period is still curving from {settled:g} s on (by {1000 * abs(edge):.2g} mK at its "
        f"ends){ends}.",
        "Extend it or end the main period later.",
    )


def _slow_approach(curve: CurveResult, limits: Thresholds) -> Note | None:
    took = curve.time_to_95_percent_s
    if took is None or took <= limits.slow_approach_s:
        return None
    return Note(
        "slow_approach",
        WARN,
        f"The water took {took / 60:.1f} min to reach 95 % of the rise; "
        f"{limits.slow_approach_s / 60:g} min or less is expected.",
        "Was the stirrer running?",
    )


def _gap(thermogram: Thermogram, periods: Periods, limits: Thresholds) -> Note | None:
    end = periods.after_until_s if periods.settled_at_s is None else periods.settled_at_s
    time = thermogram.time_s
    main = time[(time >= periods.fired_at_s) & (time <= end)]
    steps = np.diff(main)
    steps, starts = steps[steps > 0], main[:-1][steps > 0]
    if steps.size < 3 or steps.max() <= limits.gap_intervals * np.median(steps):
        return None
    widest = int(steps.argmax())
    start, usual = float(starts[widest]), float(np.median(steps))
    return Note(
        "gap",
        WARN,
        f"No readings from {start:g} s to {start + steps[widest]:g} s in the main period, where "
        f"they are {usual:g} s apart.",
        "Add the missing readings if they were written down; the rise is less sure without them.",
    )


def _same_time(thermogram: Thermogram) -> Note | None:
    time = thermogram.time_s
    twice = np.unique(time[1:][np.diff(time) == 0])
    if not twice.size:
        return None
    more = f" and at {twice.size - 1} more times" if twice.size > 1 else ""
    return Note(
        "same_time_twice",
        WARN,
        f"Two readings or more at {twice[0]:g} s{more}. All are kept.",
        "Mark the one to leave out.",
    )


def _coarse(thermogram: Thermogram, curve: CurveResult, limits: Thresholds) -> Note | None:
    step = thermogram.resolution_k
    rise = curve.rise["difference"]["rise_k"]
    if step < limits.coarse_k or not isinstance(rise, float) or rise <= step:
        return None
    expanded = 100.0 * 2.0 * np.sqrt(2.0 / 12.0) * step / rise
    return Note(
        "coarse_resolution",
        NOTE,
        f"Readings step by {step:g} K: from two end readings alone the rise is known to about "
        f"{expanded:.1g} % at best.",
        "Read the thermometer more finely, or take more readings in both rating periods.",
    )


def _missing(name: str, words: str) -> Note:
    return Note(
        "missing_field", BLOCK, f"{name} is missing: {words}.", f"Enter {words} to get the result."
    )


def _no_rise(method: str) -> Note:
    return Note(
        "no_rise",
        BLOCK,
        f"The chosen method, {method}, gives no rise from these readings.",
        "Move the bounds of the periods, or choose another method.",
    )


def _no_wire(inputs: RunInputs) -> Note | None:
    if inputs.fuse is not None or not is_on(inputs, "fuse"):
        return None
    return Note(
        "wire_missing",
        WARN,
        "No fuse wire is entered; it is left out of the heat.",
        "Leave it out (about 0.3 % for 10 cm) and say so, or enter what burned.",
    )


def _no_titre(inputs: RunInputs) -> Note | None:
    if inputs.acid is not None or not is_on(inputs, "acid"):
        return None
    return Note(
        "titre_missing",
        WARN,
        "No titre is entered; the acid is left out of the heat.",
        "Leave it out (about 0.2 %) and say so, or enter the titre.",
    )


def _other_water(inputs: RunInputs, energy: Energy, limits: Thresholds) -> Note | None:
    used, nominal = inputs.bucket_water_g, inputs.nominal_water_g
    if used is None or nominal is None or abs(used - nominal) <= limits.water_g:
        return None
    extra = heat.water_excess_j_per_k(used, nominal)
    share = ""
    if energy.heat_capacity is not None:
        share = f" ({100 * abs(extra) / energy.heat_capacity['j_per_k']:.1f} %)"
    done = "is" if is_on(inputs, "bucket_water") else "is not"
    return Note(
        "other_bucket_water",
        WARN,
        f"Water {used:g} g, this bench uses {nominal:g} g. C {done} corrected by "
        f"{extra / 1000:.3f} kJ/K{share}.".replace("-", "−"),
        "Check the weighing of the bucket.",
    )


def _certificate_basis(inputs: RunInputs) -> Note | None:
    standard = inputs.standard if recipe_for(inputs).heat_capacity else None
    if standard is None or standard.basis != "vacuum":
        return None
    if standard.density_g_per_cm3 is None:
        done = "No density is given, so no factor is applied"
    else:
        factor = heat.buoyancy_factor(standard.density_g_per_cm3)
        done = f"Factor {factor:.5f} is {'' if is_on(inputs, 'buoyancy') else 'not '}applied"
    return Note(
        "certificate_basis",
        WARN,
        f"The certificate is for mass in vacuum; the balance reads in air. {done}.",
        "Confirm the basis on the certificate.",
    )


def _formula(inputs: RunInputs) -> Note | None:
    trouble = None if inputs.substance is None else formula_trouble(inputs.substance)
    if trouble is None:
        return None
    return Note("formula", BLOCK, trouble, "Correct the formula to get values per mole.")

"""Whether the thermometer can be believed: its unit, its steps, its scatter, and when it sticks."""

import numpy as np
from numpy.typing import NDArray

from reduction.notes import BLOCK, NOTE, WARN, Note, Thresholds
from reduction.remarks.evidence import Array, Evidence, off_neighbours
from reduction.remarks.slips import SAME_TIME_S
from reduction.units import Suspicion, suspected_unit

QUARTILE = 0.3186
"""The lower quartile of the absolute value of a standard normal deviate."""


def unit_note(temperature_c: Array, limits: Thresholds) -> Note | None:
    """Readings that are no bucket's temperature in °C."""
    suspicion = suspected_unit(temperature_c, limits)
    if suspicion is None:
        return None
    if suspicion.unit is None and suspicion.near > limits.warmest_c:
        return Note(
            "not_a_temperature",
            BLOCK,
            f"Values near {suspicion.near:.5g} are no temperature of a bucket; the column looks "
            "like a resistance or counts.",
            "Choose the calibration of the sensor.",
        )
    return Note(
        "wrong_unit",
        WARN,
        f"Values near {suspicion.near:.3g}: {_asked(suspicion)}",
        "Choose the unit of the column, or the calibration of the sensor.",
    )


def _asked(suspicion: Suspicion) -> str:
    if suspicion.unit is None:
        return "too cold for a bucket in °C. Another unit, or a voltage?"
    return f"{suspicion.unit}? Read so they are near {suspicion.would_be_c:.1f} °C."


def stuck(evidence: Evidence) -> Note | None:
    """Equal readings in a row that end in a jump: the water went on warming meanwhile."""
    limits, thermogram = evidence.limits, evidence.thermogram
    time, temperature = thermogram.time_s, thermogram.temperature_c
    if thermogram.resolution_k >= limits.coarse_k:
        return None
    first, last = _equal_runs(temperature, limits.stuck_readings)
    inner = last + 2 < time.size
    first, last = first[inner], last[inner]
    jump = np.abs(temperature[last + 1] - temperature[last])
    moved = np.abs(temperature[last + 2] - temperature[last + 1])
    steps = time[last + 1] - time[last], time[last + 2] - time[last + 1]
    least = max(3.5 * thermogram.resolution_k, 6.0 * thermogram.noise_k)
    sticks = (jump > least) & (jump * steps[1] > 2.0 * moved * steps[0])
    for moment in _firing_moments(evidence):
        sticks &= (time[first] > moment) | (time[last + 1] < moment)
    if not sticks.any():
        return None
    longest = int(np.flatnonzero(sticks)[(time[last] - time[first])[sticks].argmax()])
    begin, end = first[longest], last[longest]
    return Note(
        "stuck_sensor",
        WARN,
        f"The sensor repeated {temperature[begin]:.6g} °C for {time[end] - time[begin]:g} s from "
        f"{time[begin]:g} s on while the water was warming; then it jumped by {jump[longest]:.2g} "
        "K.",
        "Leave these readings out, and check the sensor's plug and cable.",
    )


def _equal_runs(values: Array, least: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """First and last positions of stretches of so many equal values or more."""
    ends = np.append(np.flatnonzero(np.diff(values) != 0.0), values.size - 1)
    begins = np.append(0, ends[:-1] + 1)
    enough = ends - begins + 1 >= least
    return begins[enough], ends[enough]


def _firing_moments(evidence: Evidence) -> list[float]:
    """The mark and the kink: the jump at their end is the firing's."""
    kink = evidence.kink
    found = [] if kink is None else [kink.last_still_s, kink.next_s]
    return [evidence.periods.fired_at_s, *found]


def coarse(evidence: Evidence) -> Note | None:
    """Readings in coarse steps, and what can be had from them at best."""
    step = evidence.thermogram.resolution_k
    rise = evidence.curve.rise["difference"]["rise_k"]
    if step < evidence.limits.coarse_k or not isinstance(rise, float) or rise <= step:
        return None
    expanded = 100.0 * 2.0 * np.sqrt(2.0 / 12.0) * step / rise
    return Note(
        "coarse_resolution",
        NOTE,
        f"Readings step by {step:g} K: from two end readings alone the rise is known to about "
        f"{expanded:.1g} % at best.",
        "Read the thermometer more finely, or take more readings in both rating periods.",
    )


def stirrer_off(evidence: Evidence) -> Note | None:
    """Rests and jumps in place of a smooth curve, or a scatter that changed between the periods."""
    jumps = _jumps(evidence)
    advice = "Check the stirrer and its belt."
    if jumps.size >= evidence.limits.stirrer_steps:
        size = 1000.0 * float(np.median(jumps))
        return Note(
            "stirrer_off",
            WARN,
            f"Temperature moves in steps: {jumps.size} jumps of about {size:.2g} mK with rests "
            "between.",
            advice,
        )
    fore, after = (_scatter(evidence, chosen) for chosen in (evidence.fore, evidence.after))
    if (
        fore is None
        or after is None
        or max(fore, after) < evidence.limits.noise_ratio * min(fore, after)
    ):
        return None
    return Note(
        "stirrer_off",
        WARN,
        f"Readings scatter by {1000 * fore:.2g} mK in the fore and {1000 * after:.2g} mK in the "
        "after period.",
        advice,
    )


def _jumps(evidence: Evidence) -> Array:
    """Sizes [K] of steps after firing far quicker than those before and after them.

    The scatter is taken from the quieter quarter of the readings, which rests cannot widen.
    """
    thermogram = evidence.thermogram
    since = thermogram.time_s >= evidence.foot_s
    time, temperature = thermogram.time_s[since], thermogram.temperature_c[since]
    step, interval = np.diff(temperature), np.diff(time)
    if step.size < 3:
        return np.empty(0)
    quiet = float(np.quantile(np.abs(off_neighbours(time, temperature)), 0.25)) / QUARTILE
    scatter = max(quiet, thermogram.resolution_k / float(np.sqrt(12.0)))
    pace = np.abs(step) / np.where(interval > SAME_TIME_S, interval, np.inf)
    beside = np.maximum(pace[:-2], pace[2:])
    alone = pace[1:-1] > 3.0 * beside
    least = max(8.0 * np.sqrt(2.0) * scatter, 4.5 * thermogram.resolution_k)
    alone &= (pace[1:-1] - beside) * interval[1:-1] > least
    begin, end = time[1:-2], time[2:-1]
    for moment in _firing_moments(evidence):
        alone &= (begin > moment) | (end < moment)
    return np.asarray(np.abs(step[1:-1])[alone])


def _scatter(evidence: Evidence, chosen: NDArray[np.bool_]) -> float | None:
    """Scatter [K] of a rating period's readings, at least what matters; None for a few."""
    thermogram = evidence.thermogram
    if np.count_nonzero(chosen) < 12:
        return None
    off = off_neighbours(thermogram.time_s[chosen], thermogram.temperature_c[chosen])
    rounding = thermogram.resolution_k / float(np.sqrt(12.0))
    matters = evidence.limits.settled_share * evidence.rise_k
    return float(np.nanmax([np.median(np.abs(off)) / 0.6745, rounding, matters]))

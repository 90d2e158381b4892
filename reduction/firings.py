"""Firings in one record: a logger that was left on holds more than one.

A firing is a rise that begins out of rest, climbs faster than any drift, and stays. What lies
between two of them (the bucket emptied, filled and warmed again) belongs to neither.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from reduction.notes import Thresholds
from reduction.periods import find_kink
from reduction.thermogram import Thermogram

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

CHORD_S = 20.0
REST_S = 150.0
"""A rise out of so long a rest is a firing of its own, however soon after another."""
SHORTEST_REST_S = 45.0
"""And no firing is without this much of a fore period."""
STAYS_S = (120.0, 300.0)
"""When, after its foot, a rise must still stand."""
SUDDEN_S, SUDDEN_SHARE = 30.0, 0.95
USUAL_RISE_K = 2.5
"""A thermometer put from air into water climbs farther; no firing is small beside that.
Common practice, no source."""
FEWEST_READINGS = 8


@dataclass(frozen=True)
class Stretch:
    """One firing [s]: the last reading before its rise, and the readings that are its own."""

    fired_at_s: float
    from_s: float
    until_s: float


@dataclass(frozen=True, eq=False)
class _Moves:
    """Chords of about 20 s between smoothed readings: those that climb like a firing begun, and
    those that fall or bridge a gap: there the bucket was left."""

    time_s: Array
    temperature_c: Array
    ends_s: Array
    climbs: Mask
    leaves: Mask


def find_firings(thermogram: Thermogram, limits: Thresholds) -> tuple[Stretch, ...]:
    """The firings of a record that holds more than one, in order of time; else none.

    Arrays of the thermogram have shape (n,).
    """
    if thermogram.time_s.size < FEWEST_READINGS:
        return ()
    moves = _moves(thermogram, limits)
    beginnings = _beginnings(moves)
    if len(beginnings) < 2:
        return ()
    heights: dict[float, float] = {}
    for moment in beginnings:
        foot = find_foot(thermogram, moment, limits)
        since = foot - max(heights, default=-np.inf)
        rest = SHORTEST_REST_S if since > limits.firings_apart_s else REST_S
        if since < rest or _rest_before(moves, foot) < rest:
            continue
        height = _height(moves, foot)
        if height > limits.ignition_k and not _is_sudden(moves, foot, height):
            heights[foot] = height
    highest = min(max(heights.values(), default=0.0), USUAL_RISE_K)
    least = limits.second_rise_share * highest
    feet = [foot for foot, height in heights.items() if height >= least]
    return _stretches(moves, feet) if len(feet) > 1 else ()


def find_foot(thermogram: Thermogram, moment_s: float, limits: Thresholds) -> float:
    """The last reading [s] before the rise that a chord from about this moment shows."""
    time, temperature = thermogram.time_s, thermogram.temperature_c
    near = slice(*np.searchsorted(time, (moment_s - 120.0, moment_s + 600.0)))
    if time[near].size < 4:
        return moment_s
    kink = find_kink(Thermogram(time[near], temperature[near]), limits)
    return moment_s if kink is None else kink.last_still_s


def _moves(thermogram: Thermogram, limits: Thresholds) -> _Moves:
    time, temperature = thermogram.time_s, _median_of_three(thermogram.temperature_c)
    ahead = np.minimum(np.searchsorted(time, time + CHORD_S), time.size - 1)
    climbed = temperature[ahead] - temperature
    unsure = max(8.0 * thermogram.scatter_k, 2.5 * thermogram.resolution_k)
    # A drift goes on over a long interval; what counts is the pace.
    moved = np.maximum(unsure, limits.ignition_k * np.maximum((time[ahead] - time) / CHORD_S, 1.0))
    # Over a longer gap a room warms and a bucket is filled: that is no rise to look at.
    gaps = time[ahead] - time > limits.firings_apart_s
    climbs, falls = (climbed > moved) & ~gaps, (climbed < -moved) & ~gaps
    return _Moves(time, temperature, time[ahead], climbs, falls | gaps)


def _median_of_three(values: Array) -> Array:
    """Each reading between its neighbours: a single slip is gone, a kink stays where it is."""
    before, here, after = values[:-2], values[1:-1], values[2:]
    low, high = np.minimum(before, here), np.maximum(before, here)
    inner = np.maximum(low, np.minimum(high, after))
    return np.concatenate([values[:1], inner, values[-1:]])


def _beginnings(moves: _Moves) -> list[float]:
    """The first climbing chord [s] after each rest."""
    climbing = moves.time_s[moves.climbs]
    if not climbing.size:
        return []
    first = np.concatenate([[True], np.diff(climbing) > SHORTEST_REST_S])
    return [float(moment) for moment in climbing[first]]


def _height(moves: _Moves, foot_s: float) -> float:
    """How far [K] the temperature stands above the foot some minutes later."""
    time, temperature = moves.time_s, moves.temperature_c
    here, next_to, begins, ends = np.searchsorted(
        time, (foot_s, foot_s + 1e-6, foot_s + STAYS_S[0], foot_s + STAYS_S[1])
    )
    later = temperature[begins:ends] if begins < ends else temperature[next_to:ends]
    return float(np.median(later) - temperature[here]) if later.size >= 3 else 0.0


def _is_sudden(moves: _Moves, foot_s: float, height_k: float) -> bool:
    """Whether the rise is over at once, as of a thermometer put into warmer water: the heat of a
    firing takes minutes to reach the bucket. Readings far apart cannot tell."""
    here, last = np.searchsorted(moves.time_s, (foot_s, foot_s + SUDDEN_S), side="right") - 1
    climbed = moves.temperature_c[last] - moves.temperature_c[here]
    return bool(climbed > SUDDEN_SHARE * height_k)


def _rest_before(moves: _Moves, foot_s: float) -> float:
    """How long [s] before the foot the readings neither climb nor fall, at most `REST_S`."""
    before = slice(*np.searchsorted(moves.ends_s, (foot_s - REST_S, foot_s), side="right"))
    moving = moves.ends_s[before][(moves.climbs | moves.leaves)[before]]
    since = moving.max() if moving.size else max(moves.time_s[0], foot_s - REST_S)
    return foot_s - float(since)


def _stretches(moves: _Moves, feet: list[float]) -> tuple[Stretch, ...]:
    """Each firing with the readings from the last movement before it to the first after it."""
    first, last = float(moves.time_s[0]), float(moves.time_s[-1])
    middles = [(a + b) / 2.0 for a, b in pairwise(feet)]
    moving, found = moves.climbs | moves.leaves, []
    for number, foot in enumerate(feet):
        begins = first if number == 0 else middles[number - 1]
        ends = last if number == len(feet) - 1 else middles[number]
        before = moves.ends_s[(moves.time_s >= begins) & (moves.ends_s <= foot) & moving]
        after = moves.time_s[
            (moves.time_s > foot + STAYS_S[0]) & (moves.time_s < ends) & moves.leaves
        ]
        from_s = float(before.max()) if before.size else begins
        found.append(Stretch(foot, from_s, float(after.min()) if after.size else ends))
    return tuple(found)

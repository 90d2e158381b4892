"""The reading that was typed just now: whether it fits those before it."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reduction.notes import WARN, Note, Thresholds
from reduction.remarks.slips import Slip, likely_typed, typed_decimals

Array = NDArray[np.float64]

STEEPEST_K = 3.0
"""Farther than this from its neighbours no reading stands, not even at the steepest rise."""
QUIET_READINGS, QUIET_STEP_K, QUIET_MARGIN_K = 4, 0.05, 0.2
"""So many readings in such steps are quiet; the next is off by so much only when mistyped."""
SETTLING_S = 120.0
"""After the firing nothing is quiet before this."""


def note_on_newest(
    time_s: ArrayLike,
    temperature_c: ArrayLike,
    new_time_s: float,
    new_temperature_c: float,
    *,
    fired_at_s: float | None,
    is_fired: bool,
    limits: Thresholds,
) -> Note | None:
    """A note where the newest reading does not go on from those before it, in order of time [s].

    During the rise only a reading 3 K off is one; in a quiet period one 0.2 K off is. A step
    in a quiet fore period may also be the firing that nobody marked yet.
    """
    time, temperature = np.asarray(time_s, dtype=float), np.asarray(temperature_c, dtype=float)
    before = time < new_time_s
    time, temperature = time[before], temperature[before]
    if time.size < 2:
        return None
    quiet = _is_quiet(time, temperature, new_time_s, fired_at_s, is_fired)
    low, high = _expected(time[-2:], temperature[-2:], new_time_s)
    margin = max(QUIET_MARGIN_K, limits.slip_k) if quiet else STEEPEST_K
    off = max(new_temperature_c - high, 0.0) + min(new_temperature_c - low, 0.0)
    if abs(off) <= margin:
        return None
    all_read = np.append(temperature, new_temperature_c)
    slip = Slip(all_read.size - 1, off, low - margin, high + margin)
    decimals = typed_decimals(all_read)
    meant = None if decimals is None else likely_typed(new_temperature_c, decimals, slip)
    unmarked = quiet and not is_fired and off > 0
    return _note(new_temperature_c, new_time_s, off, decimals, meant, unmarked)


def _is_quiet(
    time: Array, temperature: Array, at_s: float, fired_at_s: float | None, is_fired: bool
) -> bool:
    """Whether the readings just before lie in a fore or after period, as far as can be told."""
    if time.size < QUIET_READINGS:
        return False
    if (np.abs(np.diff(temperature[-QUIET_READINGS:])) > QUIET_STEP_K).any():
        return False
    if fired_at_s is None:
        return not is_fired
    return at_s <= fired_at_s or time[-QUIET_READINGS] >= fired_at_s + SETTLING_S


def _expected(time: Array, temperature: Array, at_s: float) -> tuple[float, float]:
    """Between the last reading [°C] and where the line through the last two leads."""
    slope = (temperature[1] - temperature[0]) / (time[1] - time[0]) if time[1] > time[0] else 0.0
    led = temperature[1] + slope * (at_s - time[1])
    return float(min(temperature[1], led)), float(max(temperature[1], led))


def _note(
    read: float, at_s: float, off: float, decimals: int | None, meant: str | None, unmarked: bool
) -> Note:
    shown = f"{read:.{3 if decimals is None else decimals}f}".replace("-", "−")
    side = "above" if off > 0 else "below"
    sentence = f"Reading {shown} at {at_s:g} s stands {abs(off):.2g} K {side} those before it."
    advice = f"Mistyped {meant}?" if meant else "Mistyped?"
    if unmarked:
        advice += " If the charge was fired, mark the firing."
    return Note("typing_slip", WARN, sentence, advice)

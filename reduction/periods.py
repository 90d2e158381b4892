"""Where the periods of a firing begin and end, decided by the readings, with the reasons in words.

The firing is the kink at the foot of the rise. The main period ends where the after period has
become straight: its curvature, less the leak's own, is tested for every possible start at once.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reduction.curvature import tail_curvature
from reduction.errors import InputError, ReductionError
from reduction.notes import Thresholds
from reduction.rise import time_to_fraction
from reduction.thermogram import Periods, Thermogram, fit_line, rate
from reduction.units import suspected_unit

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Kink:
    """The foot of the rise: last reading on the fore line, the next [s], steepest rise [K/s]."""

    last_still_s: float
    next_s: float
    steepest_k_per_s: float


@dataclass(frozen=True)
class Approach:
    """How the curve comes up to the after line, extrapolated from its own pace.

    `late_s`: when only `late_share` of the rise was missing; `decade_s`: the time in which the
    missing share shrank tenfold; `matters`: the share below which the rest does not matter.
    """

    late_s: float
    late_share: float
    decade_s: float
    matters: float

    @property
    def over_s(self) -> float:
        """When the missing share falls below what matters [s]."""
        return self.late_s + self.decade_s * float(np.log10(self.late_share / self.matters))

    def missing_at(self, time_s: float) -> float:
        """The share of the rise still missing at a time [s]."""
        return self.late_share * float(10.0 ** ((self.late_s - time_s) / self.decade_s))


def find_periods(
    thermogram: Thermogram,
    fired_at_s: float | None = None,
    settled_at_s: float | None = None,
    fore_from_s: float | None = None,
    after_until_s: float | None = None,
    thresholds: Thresholds | None = None,
) -> Periods:
    """The periods [s]: what is given is kept, what is None is found.

    Raises ReductionError when no kink is there to find, or when fewer than two readings are left
    before or after the firing; InputError when the settled moment is not after the firing.
    """
    limits = thresholds or Thresholds()
    start = float(thermogram.time_s[0]) if fore_from_s is None else fore_from_s
    end = float(thermogram.time_s[-1]) if after_until_s is None else after_until_s
    found, why = [], []
    if fired_at_s is None:
        fired_at_s, sentence = _firing(thermogram, limits)
        found.append("fired_at_s")
        why.append(sentence)
    _check_firing(thermogram, start, fired_at_s, end)
    if settled_at_s is not None and settled_at_s <= fired_at_s:
        raise InputError(
            "settled_at_s",
            f"{settled_at_s:g} s is not after the firing at {fired_at_s:g} s; expected the moment "
            "from which the drift is straight again.",
        )
    periods = Periods(start, fired_at_s, settled_at_s, end)
    if settled_at_s is None:
        settled_at_s, sentence = find_settled(thermogram, periods, limits)
        found.append("settled_at_s")
        why.append(sentence)
    return replace(periods, settled_at_s=settled_at_s, found=tuple(found), why=tuple(why))


def _check_firing(thermogram: Thermogram, start: float, fired: float, end: float) -> None:
    time = thermogram.time_s
    first = time.searchsorted(start)
    fires, last = time.searchsorted([fired, end], side="right")
    before, behind = (
        np.count_nonzero(np.diff(part, prepend=-np.inf))
        for part in (time[first:fires], time[fires:last])
    )
    if before < 2 or behind < 2:
        raise ReductionError(
            f"Firing at {fired:g} s leaves {before} readings before and {behind} after it, between "
            f"{start:g} s and {end:g} s; at least 2 at different times are needed on each side. "
            "Check the firing moment and the bounds."
        )


def _firing(thermogram: Thermogram, limits: Thresholds) -> tuple[float, str]:
    kink = find_kink(thermogram, limits)
    if kink is None:
        suspicion = suspected_unit(thermogram.temperature_c, limits)
        unit = "" if suspicion is None else f" Values near {suspicion.near:.5g} are not in °C."
        raise ReductionError(
            f"No sudden rise of {limits.fuse_only_k:g} K or more is in the readings and no firing "
            f"moment was given.{unit} Mark the firing moment."
        )
    return kink.last_still_s, (
        f"Firing found at {kink.last_still_s:g} s: the last reading on the fore line before the "
        f"steepest rise of {kink.steepest_k_per_s:.2g} K/s; the next reading is at "
        f"{kink.next_s:g} s."
    )


def find_kink(thermogram: Thermogram, limits: Thresholds) -> Kink | None:
    """The foot of the steepest rise, or None where no rise stands out of the scatter.

    The steepest chord over about 20 s (one interval where readings are wider apart) marks the
    rise; from there back, the last reading that lies on the line of those before it is the foot.
    """
    time, temperature = thermogram.time_s, thermogram.temperature_c
    ahead = np.minimum(np.searchsorted(time, time + 20.0), time.size - 1)
    # Near the end of the record the chord is short; counted as 20 s its noise is no rise.
    chord = (temperature[ahead] - temperature) / np.maximum(time[ahead] - time, 20.0)
    steepest = int(np.argmax(chord))
    first = max(int(np.searchsorted(time, time[steepest] - 20.0)), 2)
    line = fit_line(time, temperature, np.arange(time.size) < first)
    level = line.at(time) if line.spread_s2 > 0 else np.full_like(time, temperature[0])
    above = temperature - level
    scatter = thermogram.scatter_k
    top = float(above[: int(np.searchsorted(time, time[steepest] + 600.0))].max())
    if top < max(limits.fuse_only_k, 5.0 * scatter):
        return None
    half = max(int(np.argmax(above >= top / 2.0)), 1)
    one_step = 1.01 * thermogram.resolution_k
    still = np.flatnonzero(above[:half] <= max(0.01 * top, 3.0 * scatter, one_step))
    last = int(still[-1]) if still.size else 0
    return Kink(float(time[last]), float(time[last + 1]), float(chord[steepest]))


def find_settled(
    thermogram: Thermogram, periods: Periods, limits: Thresholds
) -> tuple[float | None, str]:
    """The first reading of the straight after period and why, or None and why not.

    The earliest start is the one behind which no tail of the readings is still curved. From there
    the curve's own last decade (the time in which what was missing shrank tenfold) tells when the
    rest falls below what matters.
    """
    time = thermogram.time_s
    inside = (time > periods.fired_at_s) & (time <= periods.after_until_s)
    starts = np.flatnonzero(inside)
    last = _last_start(time[starts], limits)
    if last < 0:
        return None, (
            f"No after period: fewer than {limits.rating_readings} readings over "
            f"{limits.after_s:g} s follow the firing."
        )
    tails = tail_curvature(thermogram, periods, starts, limits)
    straight = _first_straight(tails.curved[: last + 1])
    if straight is None:
        return None, (
            f"No after period: the curve is still bending at {time[starts[last]]:g} s and the "
            f"readings end at {time[starts[-1]]:g} s. Read on for longer next time."
        )
    return _wait_out(thermogram, periods, time[starts[straight : last + 1]], limits)


def _first_straight(curved: NDArray[np.bool_]) -> int | None:
    """The first start that is straight together with the four after it, or to the end."""
    for start in np.flatnonzero(~curved):
        if not curved[start : start + 5].any():
            return int(start)
    return None


def _last_start(time_s: Array, limits: Thresholds) -> int:
    """The last position that still leaves an after period of enough readings and length, or −1."""
    if time_s.size < limits.rating_readings:
        return -1
    long_enough = np.searchsorted(time_s, time_s[-1] - limits.after_s, side="right") - 1
    return int(min(long_enough, time_s.size - limits.rating_readings))


def _wait_out(
    thermogram: Thermogram, periods: Periods, starts_s: Array, limits: Thresholds
) -> tuple[float | None, str]:
    """From the first straight start on, wait until the remaining approach no longer matters."""
    first = float(starts_s[0])
    reason = f"from {first:g} s on no curvature stands out of the scatter"
    approach = find_approach(thermogram, replace(periods, settled_at_s=first), limits)
    if approach is None or approach.over_s <= first:
        return first, f"Main period ends at {first:g} s: {reason}."
    settled = float(
        starts_s[min(int(np.searchsorted(starts_s, approach.over_s)), starts_s.size - 1)]
    )
    if settled < approach.over_s and approach.missing_at(settled) > limits.missing_share:
        return None, (
            f"No after period: {100 * approach.missing_at(settled):.2g} % of the rise is still "
            f"missing at {settled:g} s, the last moment that leaves {limits.after_s:g} s after it."
        )
    return settled, (
        f"Main period ends at {settled:g} s: {reason}, and by its pace the curve's approach to "
        f"the after line is over at {approach.over_s:.0f} s."
    )


def find_approach(thermogram: Thermogram, periods: Periods, limits: Thresholds) -> Approach | None:
    """The pace at which the curve comes up to the after line; None where the curve hides it.

    The times at which ten shares and one share are missing are one decade apart; the share is 1 %,
    or four times the scatter where that is more. What matters is a share of the rise, or the
    standard uncertainty `2σ/√n` of the after line at its beginning where that is more.
    """
    rated = rate(
        thermogram.time_s,
        thermogram.temperature_c,
        periods.fore_from_s,
        periods.fired_at_s,
        np.nan if periods.settled_at_s is None else periods.settled_at_s,
        periods.after_until_s,
    )
    rise = float(rated.after.at(0.0) - rated.fore.at(0.0))
    scatter = thermogram.scatter_k / rise if rise > 0 else np.nan
    share = max(0.01, 4.0 * scatter)
    if not share < 0.4:
        return None
    first = min(10.0 * share, 0.8)
    early, late = (float(time_to_fraction(rated, 1.0 - s)) for s in (first, share))
    if not late > early:
        return None
    matters = max(limits.settled_share, 2.0 * scatter / float(np.sqrt(rated.after.count)))
    decade_s = (late - early) / float(np.log10(first / share))
    return Approach(periods.fired_at_s + late, share, decade_s, matters)

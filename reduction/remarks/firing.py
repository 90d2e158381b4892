"""Whether the charge lit, when, by which clock, and whether more than once."""

from collections.abc import Sequence

import numpy as np

from reduction.firings import find_firings
from reduction.notes import BLOCK, NOTE, WARN, Note, Thresholds
from reduction.periods import Kink
from reduction.remarks.evidence import Evidence
from reduction.thermogram import fit_line


def no_ignition(evidence: Evidence, wire_burned: bool) -> Note | None:
    """No rise worth the name after firing, or the wire's own alone."""
    limits = evidence.limits
    rose = _rise_after_firing(evidence)
    if rose is None or rose >= limits.ignition_k:
        return None
    if wire_burned and rose >= max(limits.fuse_only_k, 3.0 * evidence.thermogram.scatter_k):
        return Note(
            "fuse_only",
            BLOCK,
            f"The rise of {rose:.3f} K matches the wire alone. The pellet did not catch.",
            "Wait, vent, and look at the contact between wire and pellet. It counts as a firing.",
        )
    return Note(
        "no_ignition",
        BLOCK,
        f"Temperature rose only {max(rose, 0.0):.3f} K after firing. The charge did not light.",
        "Wait, vent, check the fuse contact. This still counts as a firing.",
    )


def _rise_after_firing(evidence: Evidence) -> float | None:
    """The highest rise [K] above the fore line, as the median of three readings in a row."""
    time, temperature = evidence.thermogram.time_s, evidence.thermogram.temperature_c
    fired, limits = evidence.periods.fired_at_s, evidence.limits
    after = (time > fired) & (time <= fired + limits.ignition_within_s)
    if not after.any() or not evidence.fore.any():
        return None
    fore = fit_line(time, temperature, evidence.fore)
    drifts = fore.count >= limits.rating_readings and fore.spread_s2 > 0
    above = temperature[after] - (fore.at(time[after]) if drifts else fore.mean_c)
    if above.size < 3:
        return float(above.max())
    return float(np.median([above[:-2], above[1:-1], above[2:]], axis=0).max())


def firing_found(evidence: Evidence) -> Note | None:
    """No mark was made: say what the curve shows in its place."""
    periods, kink = evidence.periods, evidence.kink
    if "fired_at_s" not in periods.found or kink is None:
        return None
    return Note(
        "firing_found",
        NOTE,
        f"No firing was marked; the rise starts between {kink.last_still_s:g} s and "
        f"{kink.next_s:g} s, and {periods.fired_at_s:g} s is used.",
        "Mark the moment of firing if it was written down.",
    )


def firing_off(evidence: Evidence, other_clock: str | None = None) -> Note | None:
    """The mark is far from the kink, by the readings' own clock or by another one."""
    kink, limits = evidence.kink, evidence.limits
    if kink is None:
        return None
    fired = evidence.periods.fired_at_s
    late = mark_after_kink_s(kink, fired)
    # The interval and the scatter hide the foot of the rise for so long.
    hidden_s = (kink.next_s - kink.last_still_s) / 2.0
    hidden_s += 6.0 * evidence.thermogram.scatter_k / max(kink.steepest_k_per_s, 1e-6)
    if other_clock is not None and abs(late) > limits.clock_off_s + hidden_s:
        return _two_clocks(late, other_clock)
    if abs(late) <= limits.firing_off_s + hidden_s:
        return None
    return Note(
        "firing_time_off",
        WARN,
        f"The rise starts at {kink.last_still_s:g} s but firing is marked at {fired:g} s.",
        "Which is right? Move the mark, or compare the two clocks.",
    )


def mark_after_kink_s(kink: Kink, fired_at_s: float) -> float:
    """How long [s] after the middle of the kink the firing is marked, negative before.

    0 between the last reading before the rise and the next.
    """
    if kink.last_still_s <= fired_at_s <= kink.next_s:
        return 0.0
    return fired_at_s - (kink.last_still_s + kink.next_s) / 2.0


def clock_note(marks_after_kinks_s: Sequence[float], limits: Thresholds) -> Note | None:
    """Two runs or more by the same two clocks whose marks are off by the same time.

    `marks_after_kinks_s` [s] holds `mark_after_kink_s` of each run. The same offset twice is a
    clock that is off, different offsets are late hands.
    """
    late = np.asarray(marks_after_kinks_s, dtype=float)
    if late.size < 2 or np.abs(late).min() <= limits.clock_off_s:
        return None
    return _two_clocks(float(late.mean()), None) if np.ptp(late) <= limits.clock_off_s else None


def _two_clocks(late_s: float, clock: str | None) -> Note:
    behind = "behind" if late_s > 0 else "ahead of"
    other = {"pc": "this PC", "watch": "the stop-watch"}.get(clock or "", "the clock of the mark")
    return Note(
        "two_clocks",
        WARN,
        f"The readings' clock seems {abs(late_s):.0f} s {behind} {other}.",
        "Use the kink or the mark?",
    )


def two_firings(evidence: Evidence) -> Note | None:
    """Two rises far apart between the bounds."""
    if evidence.kink is None:
        return None
    firings = find_firings(evidence.thermogram, evidence.limits)
    if len(firings) < 2:
        return None
    moments = ", ".join(f"{firing.fired_at_s:g} s" for firing in firings)
    return Note(
        "two_firings",
        WARN,
        f"{len(firings)} firings found ({moments}).",
        "Which is this run? Set the bounds so that they hold one firing.",
    )

"""Whether the rating periods are long, steady and straight, and the approach between them quick."""

from dataclasses import replace

import numpy as np

from reduction.curvature import after_curvature, fore_curvature
from reduction.notes import WARN, Note
from reduction.periods import find_approach
from reduction.remarks.evidence import Array, Evidence


def short_fore(evidence: Evidence) -> Note | None:
    """Too few readings, or too short a time, before firing."""
    limits = evidence.limits
    count, span = _extent(evidence.thermogram.time_s[evidence.fore])
    if count >= limits.rating_readings and span >= limits.fore_s:
        return None
    return Note(
        "fore_period_short",
        WARN,
        f"Fore period has {count} readings over {span:g} s.",
        f"At least {limits.rating_readings} readings over {limits.fore_s:g} s are needed for a "
        "drift: read for longer before firing.",
    )


def unsteady_fore(evidence: Evidence) -> Note | None:
    """The slope of the fore period changes on the way."""
    edge, bent = fore_curvature(
        evidence.thermogram, evidence.periods, evidence.foot_s, evidence.limits
    )
    if not bent:
        return None
    return Note(
        "fore_period_unsteady",
        WARN,
        f"The slope of the fore period changes: it leaves its line by {1000 * abs(edge):.2g} mK at "
        "its ends.",
        "Begin the fore period where the drift is steady, or wait longer before firing.",
    )


def no_after(evidence: Evidence) -> Note | None:
    """The readings end before the drift is straight again."""
    periods = evidence.periods
    if periods.settled_at_s is not None:
        return None
    return Note(
        "no_after_period",
        WARN,
        periods.why[-1] if periods.why else "There is no after period.",
        "Only the heat-balance fit can give a rise; the methods with an after line cannot.",
    )


def short_after(evidence: Evidence) -> Note | None:
    """Too few readings, or too short a time, once the drift is straight."""
    limits = evidence.limits
    if evidence.periods.settled_at_s is None:
        return None
    count, span = _extent(evidence.thermogram.time_s[evidence.after])
    if count >= limits.rating_readings and span >= limits.after_s:
        return None
    return Note(
        "after_period_short",
        WARN,
        f"After period has {count} readings over {span:g} s.",
        f"At least {limits.rating_readings} readings over {limits.after_s:g} s are needed for a "
        "drift: read on for longer, or end the main period earlier.",
    )


def _extent(time_s: Array) -> tuple[int, float]:
    return time_s.size, float(np.ptp(time_s)) if time_s.size else 0.0


def curved_after(evidence: Evidence) -> Note | None:
    """The after period bends, or by its pace the approach is not over when the period begins.

    A beginning that was found had its pace looked at already.
    """
    thermogram, limits = evidence.thermogram, evidence.limits
    periods = replace(evidence.periods, fired_at_s=evidence.foot_s)
    settled = periods.settled_at_s
    if settled is None:
        return None
    strict = replace(
        limits, curvature_sigmas=limits.bend_sigmas, curvature_share=limits.after_bend_share
    )
    edge, curved = after_curvature(thermogram, periods, strict)
    looked_at = "settled_at_s" in periods.found
    approach = None if looked_at else find_approach(thermogram, periods, limits)
    early = (
        approach is not None
        and evidence.is_sure(approach.late_share)
        and approach.missing_at(settled) > 3.0 * approach.matters
    )
    if not curved and not early:
        return None
    seen = f" (by {1000 * abs(edge):.2g} mK at its ends)" if np.isfinite(edge) else ""
    ends = f" and the approach ends at about {approach.over_s:.0f} s" if early and approach else ""
    return Note(
        "after_period_curved",
        WARN,
        f"After period is still curving from {settled:g} s on{seen}{ends}.",
        "Extend it or end the main period later.",
    )


def slow_approach(evidence: Evidence) -> Note | None:
    """The water took long to even out."""
    took, limits = evidence.curve.time_to_95_percent_s, evidence.limits
    if took is None or took <= limits.slow_approach_s or not evidence.is_sure(0.05):
        return None
    return Note(
        "slow_approach",
        WARN,
        f"The water took {took / 60:.1f} min to reach 95 % of the rise; "
        f"{limits.slow_approach_s / 60:g} min or less is expected.",
        "Was the stirrer running?",
    )


def gap(evidence: Evidence) -> Note | None:
    """An interval of the main period much longer than the one before it and the one after it."""
    time = np.unique(evidence.thermogram.time_s)
    periods, limits = evidence.periods, evidence.limits
    end = periods.after_until_s if periods.settled_at_s is None else periods.settled_at_s
    steps = np.diff(time)
    if steps.size < 3:
        return None
    beside = np.maximum(np.append(0.0, steps[:-1]), np.append(steps[1:], 0.0))
    inside = (time[1:] > periods.fired_at_s) & (time[:-1] < end)
    wide = inside & (steps > limits.gap_intervals * beside)
    if not wide.any():
        return None
    widest = int(np.where(wide, steps, 0.0).argmax())
    return Note(
        "gap",
        WARN,
        f"No readings from {time[widest]:g} s to {time[widest + 1]:g} s in the main period, where "
        f"they are {beside[widest]:g} s apart.",
        "Add the missing readings if they were written down; the rise is less sure without them.",
    )

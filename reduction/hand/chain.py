"""What each step of a student's chain must give, from the student's own figures before it."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import hypot

from reduction.hand.facts import Curve, Facts
from reduction.hand.steps import STEPS

Figures = Mapping[str, float]

RULER = 0.0015
"""What a ruler on squared paper is sure to, as a share of the whole drawing: 0.3 mm of 200 mm
(common practice, no source)."""
SIGMAS = 3.0
BETWEEN = 0.1
"""How far a hand-drawn curve strays between two readings, as a share of their distance in time."""
CALCULATED = 3e-4
"""What calculating with rounded figures leaves [relative]."""
OWN = {"charge": 5e-4, "fuse": 0.02, "acid": 0.02, "molar_mass": 3e-4, "dn": 1e-6, "rt": 0.03}
"""How far [relative] a looked-up or weighed figure may lie from ours: R·T also at room
temperature."""
SUM = 1e-5
"""A sum of two figures leaves nothing but the rounding of its digits [relative]."""
SAME_MASS_G = 1.5e-4


@dataclass(frozen=True)
class HandFigure:
    """A figure as understood, in the unit reckoned in; `step` is one unit of its last digit."""

    value: float
    step: float = 0.0


@dataclass(frozen=True)
class Expected:
    """What follows for a step, and how far a sound figure may lie from it."""

    value: float
    allowed: float


def result_of(key: str, figures: Figures, facts: Facts) -> float | None:
    """The step worked out from the figures before it; None where something is missing."""
    try:
        return _result(key, figures, facts)
    except (KeyError, ZeroDivisionError):
        return None


def _result(key: str, f: Figures, facts: Facts) -> float | None:
    if key == "rise":
        return rise_between(f, facts.curve)
    if key == "capacity":
        return (f["charge"] * facts.per_gram_j + heats(f, facts)) / f["rise"] - facts.extra_j_per_k
    if key == "du":
        released = (f["capacity_used"] + facts.extra_j_per_k) * f["rise"]
        return -(released - heats(f, facts)) / (f["charge"] * facts.mass_factor)
    if key == "dcu":
        return f["molar_mass"] * f["du"] / 1000.0 * facts.state_factor
    if key == "dch":
        return f["dcu"] + f["dn"] * f["rt"]
    return facts.ours.get(key)


def rise_between(f: Figures, curve: Curve | None) -> float | None:
    """From line to line at the crossing, each line through its own middle with its own slope."""
    if curve is None:
        return None
    top = curve.after.at_c + f["after_drift"] * (f["crossing"] - curve.after.at_s)
    foot = curve.fore.at_c + f["fore_drift"] * (f["crossing"] - curve.fore.at_s)
    return top - foot


def heats(f: Figures, facts: Facts) -> float:
    """What was released beside the charge's own heat [J]."""
    return f.get("fuse", 0.0) + f.get("acid", 0.0) + facts.other_heat_j


USES = {
    "rise": ("fore_drift", "after_drift", "crossing"),
    "capacity": ("rise", "charge", "fuse", "acid"),
    "du": ("rise", "charge", "fuse", "acid", "capacity_used"),
    "dcu": ("du", "molar_mass"),
    "dch": ("dcu", "dn", "rt"),
}


def expected(
    key: str, hand: HandFigure, figures: Figures, steps: Mapping[str, float], facts: Facts
) -> Expected | None:
    """What a step must give from `figures`, ours where the student gave none.

    `steps` holds the last digit of each figure given: their rounding is allowed for. None where we
    have nothing to compare with.
    """
    value = result_of(key, figures, facts)
    if value is None:
        return None
    allowed = _reading(key, value, facts) + hand.step / 2.0
    for used in USES.get(key, ()):
        if used in steps:
            moved = dict(figures) | {used: figures[used] + steps[used] / 2.0}
            other = result_of(key, moved, facts)
            allowed += 0.0 if other is None else abs(other - value)
    if key == "crossing" and facts.crossings:
        low, high = min(facts.crossings), max(facts.crossings)
        return Expected((low + high) / 2.0, allowed + (high - low) / 2.0)
    return Expected(value, allowed)


def _reading(key: str, value: float, facts: Facts) -> float:
    """How far a careful hand strays at a step, whatever was rounded before it."""
    curve = facts.curve
    if curve is not None and key in ("fore_drift", "after_drift", "crossing", "rise"):
        return SIGMAS * _on_paper(key, facts, curve)
    if key == "charge":
        return max(SAME_MASS_G, OWN[key] * abs(value))
    if key == "dch":
        return SUM * abs(value)
    return OWN.get(key, CALCULATED) * abs(value)


def _on_paper(key: str, facts: Facts, curve: Curve) -> float:
    ruler_k, ruler_s = RULER * abs(curve.end_to_end_k), RULER * curve.lasts_s
    if key == "crossing":
        pace = max(abs(curve.pace_k_per_s), 1e-9)
        return hypot(ruler_s, ruler_k / pace, BETWEEN * curve.interval_s)
    if key == "rise":
        return hypot(ruler_k, ruler_k, facts.rise_u_k)
    line = curve.fore if key == "fore_drift" else curve.after
    return hypot(ruler_k / line.span_s, ruler_k / line.span_s, line.u_k_per_s)


def order_of(keys: Mapping[str, HandFigure]) -> list[str]:
    """The steps a student gave, in the order of the work."""
    return [key for key in STEPS if key in keys]

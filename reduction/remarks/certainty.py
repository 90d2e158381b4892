"""Notes on how far the rise can be trusted: straight lines on bent drifts, readings that err alike.

A note never changes a number.
"""

import numpy as np

from reduction.curve import CurveResult
from reduction.notes import NOTE, WARN, Note, Thresholds
from reduction.rise_uncertainty import integral_bend

STRAIGHT_LINES = {
    "fraction": "fraction of the rise",
    "fraction_060": "fraction 0.60",
    "equal_areas": "equal areas",
    "regnault_pfaundler": "Regnault–Pfaundler",
}
SAME_LINES: dict[str | None, str | None] = {"fraction_by_hand": "fraction"}
"""The ruler's way shares the fraction's lines; where it differs, that is the ruler's doing."""
BIG_LEAK_SIGMAS = 3.0
"""A leak is taken for real where the drifts differ by so many standard uncertainties."""


def certainty_notes(curve: CurveResult, limits: Thresholds, used: str | None = None) -> list[Note]:
    """Notes on the methods, with a warning where the one that is used is concerned."""
    found = [line_bias_note(curve, limits, used), alike_note(curve)]
    return [note for note in found if note is not None]


def line_biases(curve: CurveResult) -> dict[str, float]:
    """By how much [K] each method that draws straight lines is off on this curve, estimated.

    A leak bends the drift, `dg/dT = −k`. Regnault–Pfaundler follows that bend through the main
    period and misses only that of its own lines, which is known (`integral_bend`): less that, it is
    what the others are held against. Empty where no leak stands out of the noise.
    """
    rated, noise = curve.rated, curve.noise
    integral = curve.rise["regnault_pfaundler"]["rise_k"]
    if rated is None or noise is None or not isinstance(integral, float):
        return {}
    fore, after = rated.fore, rated.after
    apart = float(np.abs(after.slope - fore.slope))
    variance = noise.inflation * noise.sd_k**2 * (1.0 / fore.spread_s2 + 1.0 / after.spread_s2)
    if not apart > BIG_LEAK_SIGMAS * float(np.sqrt(variance)):
        return {}
    straight = integral - float(integral_bend(fore, after))
    rises = {name: curve.rise[name]["rise_k"] for name in STRAIGHT_LINES}
    return {name: rise - straight for name, rise in rises.items() if isinstance(rise, float)}


def line_bias_note(curve: CurveResult, limits: Thresholds, used: str | None = None) -> Note | None:
    """Which methods the leak puts off by more than matters and than half their uncertainty."""
    off = {
        name: (bias, 100.0 * bias / rise_k)
        for name, bias in line_biases(curve).items()
        if isinstance(rise_k := curve.rise[name]["rise_k"], float)
        and isinstance(u_k := curve.rise[name]["u_k"], float)
        and abs(bias) > max(limits.line_bias_share * abs(rise_k), u_k / 2.0)
    }
    if not off or curve.rated is None:
        return None
    fore, after = curve.rated.fore, curve.rated.after
    leak = float((fore.slope - after.slope) / (after.mean_c - fore.mean_c))
    each = ", ".join(
        f"{STRAIGHT_LINES[name]} by {percent:+.2f} % ({1000.0 * bias:+.1f} mK)"
        for name, (bias, percent) in off.items()
    )
    better = "the heat-balance fit" if "regnault_pfaundler" in off else "Regnault–Pfaundler"
    return Note(
        "line_bias",
        WARN if SAME_LINES.get(used, used) in off else NOTE,
        f"Heat leaks at about {leak:.1e} 1/s, which bends the drift; straight lines are off: "
        f"{each}.".replace("-", "−"),
        f"No number was changed. Compare with {better}; look for what lets heat into the bucket.",
    )


def alike_note(curve: CurveResult) -> Note | None:
    """Neighbouring readings err alike, so that their number counts for less."""
    if curve.noise is None or not curve.noise.lag_one > 0:
        return None
    rho, widened = float(curve.noise.lag_one), float(np.sqrt(curve.noise.inflation))
    return Note(
        "readings_alike",
        NOTE,
        f"Neighbouring readings stray from the lines alike (correlation {rho:.2f}): they tell less "
        f"than their number, and the uncertainty of the rise is widened {widened:.1f} times.",
        "Look for a slow wander (stirring, draught, a lagging sensor) or a period still bending.",
    )

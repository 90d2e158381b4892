"""The corrected temperature rise, one function a method.

Fore line `L_i` and after line `L_f` give the rise `ΔT = L_f(t_x) − L_i(t_x)`; the methods differ in
how they find `t_x`, except Regnault–Pfaundler, which integrates. Times count from the firing. All
functions take one run or a batch (see `Rated`) and return arrays of shape (...), NaN where the
method has no answer.

Between neighbouring readings the distance to the after line is taken to die away exponentially, as
it does in a stirred bucket: closed forms again, exact for a first-order release at any interval,
and the trapezoid and the straight chord where the readings are dense.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reduction.rise_uncertainty import (
    Weights,
    areas_weights,
    crossing_weights,
    hand_weights,
    integral_weights,
)
from reduction.thermogram import Rated

Array = NDArray[np.float64]

PHI = 1.0 - np.exp(-1.0)
"""The fraction of the rise at the time constant of an exponential (common practice: "0.63")."""
PHI_FUEL = 0.60
"""The rounded fraction of fuel test methods (from memory)."""
PHI_HAND = 0.63
"""The fraction used with ruler and paper (common practice)."""


@dataclass(frozen=True, eq=False)
class Rise:
    """The corrected rise [K], the moment [s after firing] it is read at, both of shape (...), and
    how it moves with its inputs."""

    rise_k: Array
    at_s: Array
    weights: Weights


def fraction(rated: Rated, phi: float = PHI) -> Rise:
    """Dickinson extrapolation: t_x where `(T − L_i)/(L_f − L_i) = φ`, all at the same t.

    Between two readings the remaining share `r = (L_f − T)/(L_f − L_i)` falls as `e^(−t/τ)`, so
    `t_x = t_0 + (t_1 − t_0)·ln(r_0/(1 − φ))/ln(r_0/r_1)`, by a chord where next to
    nothing is left in r_1. φ between 0 and 1. Source: common practice of fuel calorimetry.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        (t0, t1), (r0, r1) = rated.bracket(rated.to_after_k / rated.apart_k, 1.0 - phi)
        falling = np.log(r0 / (1.0 - phi)) / np.log(r0 / r1)
        chord = (r0 - (1.0 - phi)) / (r0 - r1)
        at_s = t0 + (t1 - t0) * np.where(r1 > 5e-4 * r0, falling, chord)
        closing = (rated.after.at(at_s) - rated.fore.at(at_s)) * (r0 - r1) / (t1 - t0)
        off_s = t0 + (t1 - t0) * chord - at_s
        weights = crossing_weights(rated.fore, rated.after, at_s, phi, closing, off_s)
    return Rise(_between_lines(rated, at_s), at_s, weights)


def fraction_by_hand(rated: Rated, phi: float = PHI_HAND) -> Rise:
    """The ruler's way: R between the lines at the middle of the main period, then φR up the curve.

    One pass, as taught in courses (common practice, no source).
    """
    middle = rated.settled_s / 2.0
    between = rated.after.at(middle) - rated.fore.at(middle)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = 1.0 - (rated.apart_k - rated.to_after_k) / rated.along(between)
        (t0, t1), (r0, r1) = rated.bracket(share, 1.0 - phi)
        at_s = t0 + (t1 - t0) * (r0 - (1.0 - phi)) / (r0 - r1)
        closing = between * (r0 - r1) / (t1 - t0)
        lines = rated.fore, rated.after
        weights = hand_weights(*lines, at_s, phi, closing, rated.settled_s)
    return Rise(_between_lines(rated, at_s), at_s, weights)


def equal_areas(rated: Rated) -> Rise:
    """Equal areas: `∫_0^{t_x}(T − L_i)dt = ∫_{t_x}^{t_f}(L_f − T)dt`.

    With straight lines this is a quadratic in t_x once `∫T dt` is known; its root
    near the linear solution is taken in the form that divides by no small number.
    """
    end, start = rated.settled_s, rated.fore.at(0.0)
    area = _area_above(rated, start)
    step = rated.after.at(0.0) - start
    square = (rated.after.slope - rated.fore.slope) / 2.0
    constant = area - step * end - rated.after.slope * end**2 / 2.0
    with np.errstate(invalid="ignore", divide="ignore"):
        root = np.sqrt(step**2 - 4.0 * square * constant)
        at_s = -2.0 * constant / (step + np.copysign(root, step))
        at_s = np.where((at_s >= 0.0) & (at_s <= end), at_s, np.nan)
        left = rated.missing
        lines = rated.fore, rated.after
        weights = areas_weights(*lines, at_s, end, left.steps_s2, left.chord_k_s)
    return Rise(_between_lines(rated, at_s), at_s, weights)


def regnault_pfaundler(rated: Rated) -> Array:
    """`ΔT = T(t_f) − T(t_i) − ∫g(T)dt`, `g(T) = g_i + (g_f − g_i)(T − T̄_i)/(T̄_f − T̄_i)`.

    T̄ are the mean temperatures of the rating periods, the end temperatures are taken from the
    lines, the integral runs over the main period. Formula from memory; the name is
    that of the standards for isoperibol jackets.
    """
    fore, after = rated.fore, rated.after
    area = _area_above(rated, fore.mean_c)
    with np.errstate(invalid="ignore", divide="ignore"):
        per_kelvin = (after.slope - fore.slope) / (after.mean_c - fore.mean_c)
        drift = fore.slope * rated.settled_s + per_kelvin * area
    return after.at(rated.settled_s) - fore.at(0.0) - drift


def regnault_pfaundler_weights(rated: Rated) -> Weights:
    """How the rise of Regnault–Pfaundler moves with its inputs."""
    area, left = _area_above(rated, rated.fore.mean_c), rated.missing
    lines = rated.fore, rated.after
    return integral_weights(*lines, area, rated.settled_s, left.steps_s2, left.chord_k_s)


def difference(rated: Rated) -> Array:
    """`ΔT = T(t_f) − T(t_i)` with ends on the lines, for a jacket that follows the water."""
    return rated.after.at(rated.settled_s) - rated.fore.at(0.0)


def time_to_fraction(rated: Rated, phi: float) -> Array:
    """The time [s after firing] at which the fraction φ of the rise is reached, shape (...)."""
    return fraction(rated, phi).at_s


def _between_lines(rated: Rated, at_s: Array) -> Array:
    return rated.after.at(at_s) - rated.fore.at(at_s)


def _area_above(rated: Rated, level_c: Array) -> Array:
    """`∫(T − level)dt` [K s] over the main period: under the after line, less what misses of it."""
    end = rated.settled_s
    return (rated.after.at(end / 2.0) - level_c) * end - rated.missing.area_k_s

"""How sure a corrected rise is: from the two lines, the crossing and the noise of the readings.

Every method is, to first order, `δΔT = a·δT̄_i + b·δg_i + c·δT̄_f + d·δg_f + Σ w_j·δT_j + …`, with
mean and slope of a least-squares line independent of each other, `u²(T̄) = σ²/n` and
`u²(g) = σ²/Σ(t − t̄)²`. The functions take one run or a batch, arrays of shape (...), and use no
more than the sums held in the lines. Propagation: JCGM 100:2008 (GUM), 5.1.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reduction.thermogram import Line

Array = NDArray[np.float64]

HARMONICS = np.arange(1.0, 13.0)
"""Terms of the sawtooth of rounding that are summed; 95 % of its variance."""
UNSEEN_STEPS, WORST_STEPS = 1.6, 0.5
"""The drift, in steps of the resolution, that rounding hides, and the worst for a line's ends."""
DROWNED = 20.0
"""Noise in squared steps beyond which no computer can hold what rounding adds, e^(−4π²·20)."""
STANDS_OUT = 1.645
"""One-sided 5 % point of the normal distribution."""


@dataclass(frozen=True, eq=False)
class Noise:
    """The noise of one reading, arrays of shape (...).

    sd_k [K]: residuals of both lines pooled, never below resolution/√12; residual_sd_k [K]: the
    same without that floor; dof: degrees of freedom of sd_k, infinite on the floor; lag_one: the
    correlation of neighbouring residuals, 0 unless it stands out; resolution_k [K].
    """

    sd_k: Array
    residual_sd_k: Array
    dof: Array
    lag_one: Array
    resolution_k: Array

    @property
    def inflation(self) -> Array:
        """`(1 + ρ)/(1 − ρ)`: how much more a mean of readings that err alike varies, AR(1)."""
        return np.asarray((1.0 + self.lag_one) / (1.0 - self.lag_one))


@dataclass(frozen=True, eq=False)
class Weights:
    """How a rise moves with its inputs, arrays of shape (...).

    Per kelvin of the mean and per K/s of the slope of each line, `√Σw²` over single readings, and
    the standard uncertainty [K] left by what the curve does between its readings.
    """

    fore_mean: Array
    fore_slope_s: Array
    after_mean: Array
    after_slope_s: Array
    readings: Array
    between_k: Array


def reading_noise(fore: Line, after: Line, resolution_k: ArrayLike) -> Noise:
    """The noise of a reading from the residuals of both lines; NaN where none is left to see.

    Neighbouring residuals are taken to be correlated (AR(1)) where their lag-one coefficient
    stands out one-sided at 5 %, and where they are no mere rounding; the bias of the coefficient,
    about 2/n for each line, is taken off (Marriott and Pope 1954, from memory).
    """
    resolution = np.asarray(resolution_k, dtype=float)
    free = [np.maximum(line.count - 2.0, 0.0) for line in (fore, after)]
    dof = np.asarray(free[0] + free[1])
    squares = _squares(fore) + _squares(after)
    count = fore.count + after.count
    with np.errstate(invalid="ignore", divide="ignore"):
        residual_sd = np.sqrt(squares / np.where(dof > 0, dof, np.nan))
        coefficient = (fore.lag_k2 + after.lag_k2) / squares
        alike = (coefficient * np.sqrt(count) > STANDS_OUT) & (residual_sd > resolution / 2.0)
        lag_one = np.where(alike, np.minimum(coefficient + 4.0 / count, 0.95), 0.0)
    floor = resolution / np.sqrt(12.0)
    sd = np.where(np.isnan(residual_sd), np.nan, np.fmax(residual_sd, floor))
    independent = (1.0 - lag_one**2) / (1.0 + lag_one**2)
    dof = np.where(residual_sd < floor, np.inf, np.maximum(dof * independent, 1.0))
    return Noise(sd, residual_sd, dof, lag_one, resolution)


def rise_uncertainty(
    fore: Line, after: Line, weights: Weights, noise: Noise
) -> tuple[Array, Array]:
    """Standard uncertainty [K] of a rise and its effective degrees of freedom, shape (...).

    Degrees of freedom by Welch–Satterthwaite; what comes from rounding and interpolation counts
    as known exactly. NaN where the noise is not known.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        levers = (
            weights.fore_mean**2 / fore.count + weights.fore_slope_s**2 / fore.spread_s2,
            weights.after_mean**2 / after.count + weights.after_slope_s**2 / after.spread_s2,
        )
    squared = noise.inflation * (levers[0] + levers[1]) + weights.readings**2
    rounding = rounding_variance(fore, weights.fore_mean, weights.fore_slope_s, noise)
    rounding += rounding_variance(after, weights.after_mean, weights.after_slope_s, noise)
    from_noise = noise.sd_k**2 * squared
    total = np.maximum(from_noise, noise.residual_sd_k**2 * squared + rounding)
    total = total + weights.between_k**2
    with np.errstate(invalid="ignore", divide="ignore"):
        dof = noise.dof * (total / from_noise) ** 2
    return np.sqrt(total), np.asarray(np.where(from_noise > 0, dof, np.inf))


def rounding_variance(line: Line, on_mean: Array, on_slope_s: Array, noise: Noise) -> Array:
    """Variance [K²] of `on_mean·T̄ + on_slope·g` from rounding readings that drift slowly.

    While the drift stays within a step of the resolution q, all readings are rounded alike and
    their number does not help. Rounding is a sawtooth, `Σ_k (q/πk)·sin(2πkT/q)`, of unknown phase,
    damped by the noise σ as `e^(−2π²k²σ²/q²)`; each term is seen through the line's weights
    `a + 12(b/L)u`, -½ < u < ½, over a period of length L in which T drifts by d steps:
    `Σ_k q²/(2π²k²)·e^(−4π²k²σ²/q²)·[a²·sinc²(kd) + (12b/L)²·B²(kd)]`,
    `B(f) = (sin πf − πf cos πf)/(2π²f²)`. A drift over less than about 1.6 steps is not seen in
    readings so coarse: the least favourable, half a step, is taken for it. Readings of only two
    values tell nothing of the noise: none is taken. Worked out here.
    """
    step = np.where(noise.resolution_k > 0, noise.resolution_k, np.nan)
    with np.errstate(invalid="ignore", divide="ignore"):
        length = np.sqrt(12.0 * line.spread_s2 / line.count)
        steps = np.abs(line.slope) * length / step
        turns = HARMONICS * np.where(steps < UNSEEN_STEPS, WORST_STEPS, steps)[..., None]
        hidden = np.maximum(noise.residual_sd_k**2 / step**2 - 1.0 / 12.0, 0.0)
        hidden = np.where(line.range_k < 1.5 * step, 0.0, hidden)
        if np.all(hidden > DROWNED):
            return np.zeros_like(on_mean)
        damping = np.exp(-4.0 * np.pi**2 * HARMONICS**2 * hidden[..., None])
        angle = np.pi * turns
        tilt = (np.sin(angle) - angle * np.cos(angle)) / (2.0 * angle**2)
        seen = np.square(on_mean)[..., None] * np.sinc(turns) ** 2
        seen = seen + (12.0 * on_slope_s / length)[..., None] ** 2 * tilt**2
        terms = damping * seen / (2.0 * np.pi**2 * HARMONICS**2)
    return np.asarray(np.nan_to_num(step**2 * terms.sum(axis=-1)))


def crossing_weights(
    fore: Line, after: Line, at_s: Array, phi: float, closing_k_per_s: Array, chord_s: Array
) -> Weights:
    """A rise read between the lines at the moment t_x where the share φ of it is reached.

    `dΔT = dL_f − dL_i + (g_f − g_i)·dt_x`, and from the share `F·dt_x = (1 − φ)dL_i + φ·dL_f − dT`
    with `F = T′ − g_i − φ(g_f − g_i)` the pace [K/s] at which the curve closes on the share's line.
    chord_s [s]: how far a straight chord between the readings would move t_x, taken for the
    half-width of a rectangular distribution.
    """
    apart = after.slope - fore.slope
    moved = apart / closing_k_per_s
    on_fore, on_after = -1.0 + (1.0 - phi) * moved, 1.0 + phi * moved
    return Weights(
        on_fore,
        on_fore * (at_s - fore.mean_s),
        on_after,
        on_after * (at_s - after.mean_s),
        np.abs(moved),
        np.abs(apart * chord_s) / np.sqrt(3.0),
    )


def hand_weights(
    fore: Line, after: Line, at_s: Array, phi: float, closing_k_per_s: Array, end_s: Array
) -> Weights:
    """The same for the ruler's way, R taken at the middle t_m of a main period to end_s [s].

    `F·dt_x = dL_i(t_x) + φ·(dL_f − dL_i)(t_m) − dT` with `F = T′ − g_i`.
    """
    apart, middle = after.slope - fore.slope, end_s / 2.0
    moved = apart / closing_k_per_s
    fore_slope = (moved - 1.0) * (at_s - fore.mean_s) - phi * moved * (middle - fore.mean_s)
    return Weights(
        -1.0 + (1.0 - phi) * moved,
        fore_slope,
        1.0 + phi * moved,
        at_s - after.mean_s + phi * moved * (middle - after.mean_s),
        np.abs(moved),
        np.zeros_like(moved),
    )


def areas_weights(
    fore: Line, after: Line, at_s: Array, end_s: Array, steps_s2: Array, chord_k_s: Array
) -> Weights:
    """A rise read between the lines at the moment t_x where the areas are equal.

    `R·dt_x = ∫_0^{t_x} dL_i dt + ∫_{t_x}^{t_f} dL_f dt − d∫T dt` with R the distance of the lines.
    steps_s2 [s²]: sum of the squared intervals of the main period; chord_k_s [K s]: how far
    straight chords would move `∫T dt`, taken for a rectangular half-width.
    """
    moved = (after.slope - fore.slope) / (after.at(at_s) - fore.at(at_s))
    fore_tilt = at_s * (at_s / 2.0 - fore.mean_s)
    after_tilt = (end_s - at_s) * ((end_s + at_s) / 2.0 - after.mean_s)
    return Weights(
        -1.0 + moved * at_s,
        fore.mean_s - at_s + moved * fore_tilt,
        1.0 + moved * (end_s - at_s),
        at_s - after.mean_s + moved * after_tilt,
        np.abs(moved) * np.sqrt(steps_s2),
        np.abs(moved * chord_k_s) / np.sqrt(3.0),
    )


def integral_weights(
    fore: Line, after: Line, area_k_s: Array, end_s: Array, steps_s2: Array, chord_k_s: Array
) -> Weights:
    """The rise of Regnault–Pfaundler, `L_f(t_f) − L_i(0) − g_i·t_f − κA`.

    `κ = (g_f − g_i)/(T̄_f − T̄_i)`, `A = ∫(T − T̄_i)dt` [K s] = area_k_s; the others as above.
    """
    apart = after.mean_c - fore.mean_c
    apart = np.where(apart == 0.0, np.nan, apart)  # the temperature never moved: no weights
    leak, hot_s = (after.slope - fore.slope) / apart, area_k_s / apart
    return Weights(
        -1.0 - leak * hot_s + leak * end_s,
        fore.mean_s - end_s + hot_s,
        1.0 + leak * hot_s,
        end_s - after.mean_s - hot_s,
        np.abs(leak) * np.sqrt(steps_s2),
        np.abs(leak * chord_k_s) / np.sqrt(3.0),
    )


def difference_weights(fore: Line, after: Line, end_s: Array) -> Weights:
    """The plain difference of the lines' ends, `L_f(t_f) − L_i(0)`."""
    one, none = np.ones_like(fore.mean_s), np.zeros_like(fore.mean_s)
    return Weights(-one, fore.mean_s, one, end_s - after.mean_s, none, none)


def integral_bend(fore: Line, after: Line) -> Array:
    """What the straightness of the lines adds to the rise of Regnault–Pfaundler [K].

    A leak k bends a drift g by `−k·g`; a line through a period of length L is then off at its end
    by `k·g·L²/12`, so the rise by `k(g_f·L_f² − g_i·L_i²)/12`; `L² = 12Σ(t − t̄)²/n`, and k from the
    two drifts (Newton's law of cooling). Worked out here.
    """
    leak = -(after.slope - fore.slope) / (after.mean_c - fore.mean_c)
    bends = [line.slope * line.spread_s2 / line.count for line in (fore, after)]
    return np.asarray(leak * (bends[1] - bends[0]))


@dataclass(frozen=True, eq=False)
class Fitted:
    """What a fit to one run left behind, arrays of shape (n,).

    The fitted temperature of each reading, how far the fit lies above the reading [K], and the
    number of the period it is in; free: readings less unknowns.
    """

    temperature_k: Array
    above_k: Array
    period: NDArray[np.intp]
    free: float


def weighted_uncertainty(
    weights: Array, fitted: Fitted, resolution_k: float
) -> tuple[float, float]:
    """Standard uncertainty [K] and degrees of freedom of `Σ w_j·T_j`, a result of a fit.

    The same noise as above for one run, with rounding summed over the readings of each period.
    """
    left, floor = fitted.above_k, resolution_k / np.sqrt(12.0)
    sd = float(np.sqrt(left @ left / fitted.free))
    lag = float(left[1:] @ left[:-1] / (left @ left or 1.0))
    rho = lag if lag * np.sqrt(left.size) > STANDS_OUT and sd > resolution_k / 2.0 else 0.0
    squared = float(weights @ weights) * (1.0 + rho) / (1.0 - rho)
    rounding = sum(
        _summed_rounding(weights[own], fitted.temperature_k[own], left[own], sd, resolution_k)
        for own in (fitted.period == period for period in np.unique(fitted.period))
    )
    from_noise = max(sd, floor) ** 2 * squared
    total = max(from_noise, sd**2 * squared + rounding)
    dof = np.inf if sd < floor else max(fitted.free * (1.0 - rho**2) / (1.0 + rho**2), 1.0)
    dof *= (total / from_noise) ** 2 if from_noise > 0 else 1.0
    return float(np.sqrt(total)), float(dof)


def _summed_rounding(
    weights: Array, temperature_k: Array, above_k: Array, sd_k: float, resolution_k: float
) -> float:
    """Variance [K²] of a sum from rounding: `Σ_k q²/(2π²k²)·D_k·|Σ w_j e^{2πikT_j/q}|²`."""
    if resolution_k == 0.0 or sd_k > 1.5 * resolution_k:
        return 0.0
    steps = temperature_k / resolution_k
    if np.ptp(steps) < UNSEEN_STEPS:
        steps = np.linspace(0.0, WORST_STEPS, steps.size)
    two_values = np.ptp(temperature_k - above_k) < 1.5 * resolution_k
    hidden = 0.0 if two_values else max((sd_k / resolution_k) ** 2 - 1.0 / 12.0, 0.0)
    turn = np.exp(2j * np.pi * (steps - steps[0]))
    total, phase = 0.0, np.ones_like(turn)
    for k in HARMONICS:
        phase = phase * turn
        damping = np.exp(-4.0 * np.pi**2 * k**2 * hidden)
        total += damping * abs(weights @ phase) ** 2 / (2.0 * np.pi**2 * k**2)
    return float(resolution_k**2 * total)


def _squares(line: Line) -> Array:
    """Sum of squared residuals [K²]; 0 where a line has no more than its two readings."""
    return np.asarray(np.nan_to_num(line.residual_sd_k) ** 2 * np.maximum(line.count - 2.0, 0.0))

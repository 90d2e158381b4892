"""The heat-balance fit: the whole curve explained by one differential equation.

`dT/dt = q − k(T − T_0) + ΔT·p(t)`, with q = k(T_∞ − T_0), and a release p of unit area. For a sum
of exponentials it is solved on paper,
`T(t) = T_0 + q·(1 − e^(−kt))/k + Σ a_j·(e^(−kt) − e^(−t/τ_j))/(1 − kτ_j)`, `ΔT = Σ a_j`,
so a step of the least squares costs a few exponentials a reading and no integration. Two time
constants cover heat arriving through a wall (one after the other) and by two ways (side by side).
Where the release has another shape still, the misfit is integrated and carried over to the rise.
Times count from the firing.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from reduction.rise_uncertainty import Fitted, weighted_uncertainty

Array = NDArray[np.float64]

SPLITS = np.array([0.15, 0.25, 0.35, 0.45, 0.55, 0.7, 0.85, 1.0, 1.5, 2.5])
"""Where two time constants are looked for first, in units of the one that fits alone."""


@dataclass(frozen=True)
class HeatBalance:
    """The fit: rise [K] with its standard uncertainty and degrees of freedom, leak [1/s], time
    constants [s], scatter [K].

    The uncertainty is that of least squares, widened where neighbouring residuals are alike or
    rounding shows. The scatter is that about the whole curve, or about the two rating periods
    where the release has a shape of its own; `fitted_k` is the model at every
    reading, above the first reading [K].
    """

    rise_k: float
    u_rise_k: float
    dof: float
    leak_per_s: float
    release_s: tuple[float, ...]
    residual_sd_k: float
    fitted_k: Array = field(compare=False, repr=False)


class NoFitError(ValueError):
    """The curve cannot be explained this way; the message is a sentence."""


def drift_shape(time_s: Array, leak_per_s: float) -> Array:
    """`(1 − e^(−kt))/k` [s], the drift of a body with leak k [1/s] per unit of drift at t = 0."""
    if leak_per_s == 0.0:
        return np.array(time_s, dtype=float)
    return np.asarray(-np.expm1(-leak_per_s * time_s) / leak_per_s)


def release_response(time_s: Array, leak_per_s: float, constant_s: float) -> Array:
    """Temperature at t [s] after a unit release with time constant τ [s] and leak k [1/s].

    `h(t) = (e^(−kt) − e^(−t/τ))/(1 − kτ)` for t > 0, 0 before; valid for kτ < 1.
    """
    since = np.maximum(time_s, 0.0)
    decayed = np.exp(-leak_per_s * since) - np.exp(-since / constant_s)
    return np.asarray(decayed / (1.0 - leak_per_s * constant_s))


def fit_heat_balance(
    time_s: Array,
    temperature_c: Array,
    settled_s: float | None = None,
    resolution_k: float = 0.0,
) -> HeatBalance:
    """Fit the heat balance to all readings, arrays of shape (n,), in order of time [s] from firing.

    One time constant first; a second is kept where it explains more than chance would. With
    `settled_s`, the end of the release, a misfit of the release is carried over to the rise;
    `resolution_k` is the step of the readings, for the uncertainty alone. Raises
    NoFitError with fewer than 8 readings, 4 of them after firing, when the rise is lost in the
    scatter, or when the release has not ended within the readings.
    """
    if time_s.size < 8 or np.count_nonzero(time_s > 0.0) < 4:
        raise NoFitError("The heat-balance fit needs 8 readings, 4 of them after firing.")
    curve = Curve(time_s, temperature_c - temperature_c[0])
    last = float(time_s[-1])
    constants = np.geomspace(min(5.0, last / 20.0), last / 4.0, 6)
    unknowns = curve.fit(curve.start((2e-5, 2e-4), constants, 1))
    _check_bounds(curve, unknowns)
    if time_s.size >= 12:
        beside = float(np.exp(unknowns[4])) * SPLITS
        second = curve.start((float(unknowns[2]),), beside, 2)
        if curve.explains_more(second, unknowns, 1.0):
            second = curve.fit(second)
            better = curve.explains_more(second, unknowns, 10.0) and _releases_throughout(second)
            unknowns = second if better else unknowns
    _check_bounds(curve, unknowns)
    fitted = _accepted(curve, unknowns, settled_s, resolution_k)
    if settled_s is None:
        return fitted
    return _own_release(curve, unknowns, fitted, settled_s, resolution_k)


class Curve:
    """The readings and the model's columns; unknowns are T_0, q, k, then a_j, ln τ_j for each j."""

    def __init__(self, time_s: Array, temperature_k: Array) -> None:
        self.time_s = time_s
        self.since = np.maximum(time_s, 0.0)
        self.temperature_k = temperature_k

    def periods(self, settled_s: float) -> NDArray[np.intp]:
        """0 up to the firing, 1 from there on, 2 from the settled moment on, shape (n,)."""
        return (self.time_s > 0.0).astype(np.intp) + (self.time_s >= settled_s)

    def residuals(self, unknowns: Array) -> Array:
        """Model less readings [K], shape (n,)."""
        leak = float(unknowns[2])
        model = unknowns[0] + unknowns[1] * drift_shape(self.time_s, leak)
        for amount, log_constant in unknowns[3:].reshape(-1, 2):
            model += amount * release_response(self.since, leak, float(np.exp(log_constant)))
        return np.asarray(model - self.temperature_k)

    def jacobian(self, unknowns: Array) -> Array:
        """Derivatives of the model by each unknown, shape (n, unknowns)."""
        t, since, leak, drift = self.time_s, self.since, float(unknowns[2]), unknowns[1]
        shape, kept = drift_shape(t, leak), np.exp(-leak * since)
        bend = (t * (1.0 - leak * shape) - shape) / leak if leak else -(t**2) / 2.0
        columns = np.empty((t.size, unknowns.size), order="F")
        columns[:, 0], columns[:, 1], columns[:, 2] = 1.0, shape, drift * bend
        for j in range(3, unknowns.size, 2):
            amount, constant = unknowns[j], float(np.exp(unknowns[j + 1]))
            gone, scale = np.exp(-since / constant), 1.0 - leak * constant
            response = (kept - gone) / scale
            columns[:, j] = response
            columns[:, 2] += amount * (constant * response - since * kept) / scale
            columns[:, j + 1] = amount * (leak * constant * response - since / constant * gone)
            columns[:, j + 1] /= scale
        return columns

    def start(self, leaks: Sequence[float], constants: Array, count: int) -> Array:
        """The best of all choices of a leak and `count` time constants, amounts by least squares.

        One Gram matrix a leak serves every choice.
        """
        best, squares = np.empty(0), np.inf
        for leak in leaks:
            columns = [np.ones_like(self.time_s), drift_shape(self.time_s, leak)]
            columns += [release_response(self.since, leak, float(c)) for c in constants]
            basis = np.stack(columns, axis=1)
            gram, moment = basis.T @ basis, basis.T @ self.temperature_k
            for chosen in combinations(range(constants.size), count):
                index = np.array([0, 1, *(2 + j for j in chosen)])
                amounts = np.linalg.lstsq(gram[np.ix_(index, index)], moment[index], rcond=None)[0]
                explained = float(moment[index] @ amounts)
                if -explained < squares:
                    releases = np.stack([amounts[2:], np.log(constants[list(chosen)])], axis=1)
                    best = np.concatenate([amounts[:2], [leak], releases.ravel()])
                    squares = -explained
        return best

    def fit(self, start: Array) -> Array:
        """Levenberg–Marquardt from a start."""
        with np.errstate(all="ignore"):
            solved = least_squares(
                self.residuals, start, self.jacobian, method="lm", x_scale="jac", max_nfev=60
            )
        return np.asarray(solved.x)

    def squares(self, unknowns: Array) -> float:
        """Sum of squared residuals [K²]."""
        return float(np.sum(self.residuals(unknowns) ** 2))

    def explains_more(self, second: Array, first: Array, times: float) -> bool:
        """Whether two more unknowns shrink the squares so many times as much as chance would."""
        left, before = self.squares(second), self.squares(first)
        return before - left > times * 2.0 * left / (self.time_s.size - second.size)


def _check_bounds(curve: Curve, unknowns: Array) -> None:
    """NoFitError unless leak and time constants are of the size of the record."""
    last = float(curve.time_s[-1])
    log_constants = unknowns[4::2] - np.log(last)
    if not (np.abs(log_constants) < 10.0).all() or not abs(unknowns[2]) * last < 10.0:
        raise NoFitError("The heat-balance fit does not settle on these readings.")


def _releases_throughout(unknowns: Array) -> bool:
    """Whether two releases add up to one that hardly ever takes heat back.

    `p = Σ (a_j/τ_j)·e^(−t/τ_j)` starts with the sign of the rise, or not far from nothing, and
    ends with it. Between readings far apart a fit can have them cancel in any size.
    """
    amounts, constants = unknowns[3::2], np.exp(unknowns[4::2])
    slower, rise = int(np.argmax(constants)), float(amounts.sum())
    first = float(np.sum(amounts / constants)) * float(constants[slower])
    return bool(amounts[slower] * rise > 0.0 and first * rise > -0.5 * rise**2)


def _accepted(
    curve: Curve, unknowns: Array, settled_s: float | None, resolution_k: float
) -> HeatBalance:
    """The fit as a result, or NoFitError where it says nothing about the rise."""
    amounts, constants = unknowns[3::2], np.exp(unknowns[4::2])
    rise, last = float(amounts.sum()), float(curve.time_s[-1])
    left, free = curve.residuals(unknowns), curve.time_s.size - unknowns.size
    scatter = float(np.sqrt(left @ left / free))
    if not abs(rise) >= 10.0 * scatter:
        raise NoFitError("The rise is lost in the scatter of the readings.")
    if constants.max() > last / 3.0:
        raise NoFitError("The readings end before the heat is released.")
    summed = np.zeros(unknowns.size)
    summed[3::2] = 1.0
    weights = _reading_weights(curve.jacobian(unknowns), summed)
    period = curve.periods(np.inf if settled_s is None else settled_s)
    left_behind = Fitted(curve.temperature_k + left, left, period, free)
    u_rise, dof = weighted_uncertainty(weights, left_behind, resolution_k)
    leak, release_s = float(unknowns[2]), tuple(constants.tolist())
    return HeatBalance(rise, u_rise, dof, leak, release_s, scatter, curve.temperature_k + left)


def _own_release(
    curve: Curve, unknowns: Array, fitted: HeatBalance, settled_s: float, resolution_k: float
) -> HeatBalance:
    """Correct the fit for a release of another shape, once the readings show one.

    After the release has ended the misfit δ obeys, whatever the shape,
    `δ + k∫δdt = c_0 + c_1·t + dΔT + Σ a_j·e^(−t/τ_j) − dk·∫(T − T_0)dt` (the middle terms only
    after firing: what the rise is off by, and what the fit has not yet released): linear least
    squares over both rating periods. Left alone where the main period scatters no more than they.
    """
    time, misfit = curve.time_s, -curve.residuals(unknowns)
    rating = (time <= 0.0) | (time >= settled_s)
    if np.count_nonzero(rating) < 7 or np.count_nonzero(time[rating] > 0.0) < 3 or rating.all():
        return fitted
    gone = misfit + fitted.leak_per_s * _integral(time, misfit) - _unreleased(curve, unknowns)
    above = _integral(time, curve.temperature_k - unknowns[0])
    basis = np.stack([np.ones_like(time), time, time > 0.0, -above], axis=1)[rating]
    solved = np.linalg.lstsq(basis, gone[rating], rcond=None)[0]
    left = gone[rating] - basis @ solved
    free, scatter = left.size - 4, float(np.sqrt(left @ left / (left.size - 4)))
    main = misfit[~rating]
    if _rms(main) <= scatter * (1.0 + 3.0 / np.sqrt(2.0 * main.size)):
        return fitted
    weights = _reading_weights(basis, np.array([0.0, 0.0, 1.0, 0.0]))
    straight, period = curve.temperature_k[rating] - left, curve.periods(settled_s)[rating]
    left_behind = Fitted(straight, -left, period, free)
    u_rise, dof = weighted_uncertainty(weights, left_behind, resolution_k)
    return replace(
        fitted,
        rise_k=fitted.rise_k + float(solved[2]),
        u_rise_k=u_rise,
        dof=dof,
        leak_per_s=fitted.leak_per_s + float(solved[3]),
        residual_sd_k=scatter,
    )


def _unreleased(curve: Curve, unknowns: Array) -> Array:
    """What the fitted release still holds back after firing [K], shape (n,)."""
    held = sum(a * np.exp(-curve.since / np.exp(log)) for a, log in unknowns[3:].reshape(-1, 2))
    return np.asarray(np.where(curve.time_s > 0.0, held, 0.0))


def _reading_weights(columns: Array, weights: Array) -> Array:
    """How `weights·unknowns` moves with each reading, `X(XᵀX)⁻¹w`, shape (n,)."""
    size = np.linalg.norm(columns, axis=0)
    size[size == 0.0] = 1.0
    scaled = columns / size
    inverse = np.linalg.pinv(scaled.T @ scaled, hermitian=True)
    return np.asarray(scaled @ (inverse @ (weights / size)))


def _integral(time_s: Array, values: Array) -> Array:
    """Trapezoid sums from the firing, shape (n,)."""
    steps = np.diff(time_s) * (values[1:] + values[:-1]) / 2.0
    total = np.concatenate([[0.0], np.cumsum(steps)])
    return np.asarray(total - np.interp(0.0, time_s, total))


def _rms(values: Array) -> float:
    return float(np.sqrt(np.mean(values**2)))

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
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

Array = NDArray[np.float64]

SPLITS = np.array([0.15, 0.25, 0.35, 0.45, 0.55, 0.7, 0.85, 1.0, 1.5, 2.5])
"""Where two time constants are looked for first, in units of the one that fits alone."""


@dataclass(frozen=True)
class HeatBalance:
    """The fit: rise [K] with its standard uncertainty, leak [1/s], time constants [s], scatter [K].

    The uncertainty is that of least squares with independent readings. The scatter is that about
    the whole curve, or about the two rating periods where the release has a shape of its own.
    """

    rise_k: float
    u_rise_k: float
    leak_per_s: float
    release_s: tuple[float, ...]
    residual_sd_k: float


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
    time_s: Array, temperature_c: Array, settled_s: float | None = None
) -> HeatBalance:
    """Fit the heat balance to all readings, arrays of shape (n,), in order of time [s] from firing.

    One time constant first; a second is kept where it explains more than chance would. With
    `settled_s`, the end of the release, a misfit of the release is carried over to the rise. Raises
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
            unknowns = second if curve.explains_more(second, unknowns, 10.0) else unknowns
    _check_bounds(curve, unknowns)
    fitted = _accepted(curve, unknowns)
    if settled_s is None:
        return fitted
    return _own_release(curve, unknowns, fitted, settled_s)


class Curve:
    """The readings and the model's columns; unknowns are T_0, q, k, then a_j, ln τ_j for each j."""

    def __init__(self, time_s: Array, temperature_k: Array) -> None:
        self.time_s = time_s
        self.since = np.maximum(time_s, 0.0)
        self.temperature_k = temperature_k

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


def _accepted(curve: Curve, unknowns: Array) -> HeatBalance:
    """The fit as a result, or NoFitError where it says nothing about the rise."""
    amounts, constants = unknowns[3::2], np.exp(unknowns[4::2])
    rise, last = float(amounts.sum()), float(curve.time_s[-1])
    scatter = float(np.sqrt(curve.squares(unknowns) / (curve.time_s.size - unknowns.size)))
    if not abs(rise) >= 10.0 * scatter:
        raise NoFitError("The rise is lost in the scatter of the readings.")
    if constants.max() > last / 3.0:
        raise NoFitError("The readings end before the heat is released.")
    summed = np.zeros(unknowns.size)
    summed[3::2] = 1.0
    u_rise = scatter * _lever(curve.jacobian(unknowns), summed)
    return HeatBalance(rise, u_rise, float(unknowns[2]), tuple(constants.tolist()), scatter)


def _own_release(
    curve: Curve, unknowns: Array, fitted: HeatBalance, settled_s: float
) -> HeatBalance:
    """Correct the fit for a release of another shape, once the readings show one.

    The misfit δ obeys `δ + k∫δdt = c_0 + c_1·t + dΔT − dk·∫(T − T_0)dt` after the release has
    ended, whatever its shape (dΔT only after firing): linear least squares over both rating
    periods. Left alone where the main period fits as well as they do.
    """
    time, misfit = curve.time_s, -curve.residuals(unknowns)
    rating = (time <= 0.0) | (time >= settled_s)
    if np.count_nonzero(rating) < 7 or np.count_nonzero(time[rating] > 0.0) < 3 or rating.all():
        return fitted
    if _rms(misfit[~rating]) <= 2.0 * _rms(misfit[rating]):
        return fitted
    gone = misfit + fitted.leak_per_s * _integral(time, misfit)
    above = _integral(time, curve.temperature_k - unknowns[0])
    basis = np.stack([np.ones_like(time), time, time > 0.0, -above], axis=1)[rating]
    solved = np.linalg.lstsq(basis, gone[rating], rcond=None)[0]
    left = gone[rating] - basis @ solved
    scatter = float(np.sqrt(np.sum(left**2) / (left.size - 4)))
    return HeatBalance(
        fitted.rise_k + float(solved[2]),
        scatter * _lever(basis, np.array([0.0, 0.0, 1.0, 0.0])),
        fitted.leak_per_s + float(solved[3]),
        fitted.release_s,
        scatter,
    )


def _lever(columns: Array, weights: Array) -> float:
    """Standard uncertainty of `weights·unknowns` per unit scatter, `√(wᵀ(XᵀX)⁻¹w)`."""
    size = np.linalg.norm(columns, axis=0)
    size[size == 0.0] = 1.0
    scaled = columns / size
    inverse = np.linalg.pinv(scaled.T @ scaled, hermitian=True)
    return float(np.sqrt(weights / size @ inverse @ (weights / size)))


def _integral(time_s: Array, values: Array) -> Array:
    """Trapezoid sums from the firing, shape (n,)."""
    steps = np.diff(time_s) * (values[1:] + values[:-1]) / 2.0
    total = np.concatenate([[0.0], np.cumsum(steps)])
    return np.asarray(total - np.interp(0.0, time_s, total))


def _rms(values: Array) -> float:
    return float(np.sqrt(np.mean(values**2)))

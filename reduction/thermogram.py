"""Readings, the three periods of a firing, and the straight lines of the two rating periods.

Every function works on one run, arrays of shape (n,), and on a batch, shape (runs, n): the last
axis runs over the readings, all sums are closed forms.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reduction.errors import ReductionError

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

HOTTEST_C = 1000.0
LONGEST_S = 1e7


@dataclass(frozen=True, eq=False)
class Thermogram:
    """Readings in order of time: `time_s` [s] on their own clock, `temperature_c` [°C]."""

    time_s: Array
    temperature_c: Array

    @classmethod
    def of(cls, time_s: ArrayLike, temperature_c: ArrayLike) -> "Thermogram":
        """Sort readings by time, keeping typed order among equal times; NaN marks a blank slot.

        Raises ReductionError when fewer than four readings are left, or no bucket can read so.
        """
        time = np.asarray(time_s, dtype=float)
        temperature = np.asarray(temperature_c, dtype=float)
        filled = np.isfinite(time) & np.isfinite(temperature)
        if np.count_nonzero(filled) < 4:
            raise ReductionError(
                f"{np.count_nonzero(filled)} usable readings; at least 2 before and 2 after "
                "firing are needed."
            )
        time, temperature = time[filled], temperature[filled]
        if np.abs(temperature).max() > HOTTEST_C or np.ptp(time) > LONGEST_S:
            raise ReductionError(
                f"Readings reach {np.abs(temperature).max():.3g} °C over {np.ptp(time):.3g} s; "
                f"expected temperatures below {HOTTEST_C:g} °C within {LONGEST_S:g} s. Check units."
            )
        order = np.argsort(time, kind="stable")
        return cls(time[order], temperature[order])

    @cached_property
    def resolution_k(self) -> float:
        """The smallest step [K] between two different readings, 0 when all are equal."""
        steps = np.diff(np.unique(np.round(self.temperature_c, 7)))
        return float(steps.min()) if steps.size else 0.0

    @cached_property
    def noise_k(self) -> float:
        """Scatter [K] of single readings about the straight line between their neighbours.

        The median of the absolute deviations, made a standard deviation for normal noise; the
        main period's curvature hardly moves it.
        """
        t, y = self.time_s, self.temperature_c
        span = t[2:] - t[:-2]
        weight = np.divide(t[1:-1] - t[:-2], span, out=np.full(span.shape, 0.5), where=span > 0)
        deviation = y[1:-1] - (1.0 - weight) * y[:-2] - weight * y[2:]
        spread = np.sqrt(1.0 + weight**2 + (1.0 - weight) ** 2)
        return float(np.median(np.abs(deviation) / spread) / 0.6745)

    @property
    def scatter_k(self) -> float:
        """Standard deviation [K] of one reading, never below that of its rounding."""
        return max(self.noise_k, self.resolution_k / float(np.sqrt(12.0)))


@dataclass(frozen=True)
class Periods:
    """The bounds of fore, main and after period [s], what was found and why, in sentences.

    `settled_at_s` is None when the readings end before the drift is straight again.
    """

    fore_from_s: float
    fired_at_s: float
    settled_at_s: float | None
    after_until_s: float
    found: tuple[str, ...] = ()
    why: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Line:
    """A least-squares line through a rating period, held at its own mean; arrays of shape (...).

    slope [K/s], mean time [s] and mean temperature [°C], number of readings, residual standard
    deviation [K] with n − 2 degrees of freedom (NaN for two readings), and the sum of squared
    times about the mean [s²], from which the uncertainty of any value on the line follows.
    """

    slope: Array
    mean_s: Array
    mean_c: Array
    count: Array
    residual_sd_k: Array
    spread_s2: Array

    def at(self, time_s: float | Array) -> Array:
        """Temperature [°C] on the line at times [s] that broadcast against shape (...)."""
        return np.asarray(self.mean_c + self.slope * (time_s - self.mean_s))

    def over(self, time_s: Array) -> Array:
        """Temperature [°C] on the line at every reading, times of shape (..., n)."""
        since = time_s - self.mean_s[..., None]
        return np.asarray(self.mean_c[..., None] + self.slope[..., None] * since)


def fit_line(time_s: Array, temperature_c: Array, chosen: Mask) -> Line:
    """Ordinary least squares through the chosen readings, all arrays of shape (..., n).

    `g = Σ(t − t̄)(T − T̄)/Σ(t − t̄)²`, sums taken about the means so that neither a late clock nor
    a high temperature costs digits. Fewer than two different times give NaN.
    """
    count = np.count_nonzero(chosen, axis=-1).astype(float)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean_s = np.sum(time_s, axis=-1, where=chosen) / count
        mean_c = np.sum(temperature_c, axis=-1, where=chosen) / count
        since = np.where(chosen, time_s - mean_s[..., None], 0.0)
        above = np.where(chosen, temperature_c - mean_c[..., None], 0.0)
        spread = np.einsum("...n,...n->...", since, since)
        slope = np.einsum("...n,...n->...", since, above) / np.where(spread > 0, spread, np.nan)
        left = above - slope[..., None] * since
        squares = np.einsum("...n,...n->...", left, left)
        residual_sd = np.sqrt(squares / np.where(count > 2, count - 2, np.nan))
    return Line(slope, mean_s, mean_c, count, residual_sd, spread)


@dataclass(frozen=True, eq=False)
class Rated:
    """A thermogram with both rating periods fitted; times [s] count from the firing.

    `time_s`, `temperature_c` have shape (..., n); `settled_s` shape (...) is the end of the main
    period. `curve_s`, `curve_c` is the curve of the main period, shape (..., n): what lies outside
    is drawn onto its ends, which lie on the two lines.
    """

    time_s: Array
    temperature_c: Array
    settled_s: Array
    fore: Line
    after: Line
    curve_s: Array
    curve_c: Array


def rate(
    time_s: Array,
    temperature_c: Array,
    fore_from_s: float | Array,
    fired_at_s: float | Array,
    settled_at_s: float | Array,
    after_until_s: float | Array,
) -> Rated:
    """Fit both rating periods of readings in order of time, shape (..., n), bounds of shape (...).

    The fore period runs up to and including the firing, the after period from the settled moment
    on. Times are first counted from the firing, so a shift of the clock changes nothing.
    """
    fired = np.asarray(fired_at_s, dtype=float)
    since = time_s - fired[..., None]
    begin = np.asarray(fore_from_s - fired)
    settled = np.asarray(settled_at_s - fired)
    end = np.asarray(after_until_s - fired)
    fore = fit_line(since, temperature_c, (since >= begin[..., None]) & (since <= 0.0))
    chosen = (since >= settled[..., None]) & (since <= end[..., None])
    after = fit_line(since, temperature_c, chosen)
    curve_s = np.clip(since, 0.0, settled[..., None])
    ends = np.where(since <= 0.0, fore.over(curve_s), after.over(curve_s))
    inside = (since > 0.0) & (since < settled[..., None])
    curve_c = np.where(inside, temperature_c, ends)
    return Rated(since, temperature_c, settled, fore, after, curve_s, curve_c)

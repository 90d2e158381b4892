"""Readings, the three periods of a firing, and the straight lines of the two rating periods.

Every function works on one run, arrays of shape (n,), and on a batch, shape (runs, n): the last
axis runs over the readings, all sums are closed forms.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reduction.errors import ReductionError

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Pair = tuple[Array, Array]

HOTTEST_C = 1e8
"""Larger numbers no logger writes, not even as counts; smaller ones are noted, not refused."""
NEARLY_ALL = 0.999
"""Where `(a − b)/(a + b)` is larger, b may be mere rounding, which says nothing of a decay."""
LONGEST_S = 1e7
FINEST = 1e7
"""Steps in a kelvin below which two readings count as equal: what decimal text leaves of them."""


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
        if not filled.all():
            time, temperature = time[filled], temperature[filled]
        if time.size < 4:
            raise ReductionError(
                f"{time.size} usable readings; at least 2 before and 2 after firing are needed."
            )
        if (time[1:] < time[:-1]).any():
            order = np.argsort(time, kind="stable")
            time, temperature = time[order], temperature[order]
        span, hottest = time[-1] - time[0], max(temperature.max(), -temperature.min())
        if hottest > HOTTEST_C or span > LONGEST_S:
            raise ReductionError(
                f"Readings reach {hottest:.3g} °C over {span:.3g} s; "
                f"expected numbers below {HOTTEST_C:g} within {LONGEST_S:g} s. Check units."
            )
        return cls(time, temperature)

    @cached_property
    def resolution_k(self) -> float:
        """The smallest step [K] between two different readings, 0 when all are equal."""
        in_order = np.sort(np.rint(self.temperature_c * FINEST))
        steps = in_order[1:] - in_order[:-1]
        steps = steps[steps > 0.0]
        return float(steps.min()) / FINEST if steps.size else 0.0

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
    deviation [K] with n − 2 degrees of freedom (NaN for two readings), the sum of squared times
    about the mean [s²], from which the uncertainty of any value on the line follows, the sum of
    products of neighbouring residuals [K²], which tells whether they err alike, and the range of
    the readings [K], which tells whether rounding leaves more than two values of them.
    """

    slope: Array
    mean_s: Array
    mean_c: Array
    count: Array
    residual_sd_k: Array
    spread_s2: Array
    lag_k2: Array
    range_k: Array

    def at(self, time_s: float | Array) -> Array:
        """Temperature [°C] on the line at times [s] that broadcast against shape (...)."""
        return self.mean_c + self.slope * (time_s - self.mean_s)

    def over(self, time_s: Array) -> Array:
        """Temperature [°C] on the line at every reading, times of shape (..., n)."""
        since = time_s - self.mean_s[..., None]
        return np.asarray(self.mean_c[..., None] + self.slope[..., None] * since)


def fit_line(time_s: Array, temperature_c: Array, chosen: Mask | None = None) -> Line:
    """Ordinary least squares through all readings, or the chosen ones, arrays of shape (..., n).

    `g = Σ(t − t̄)(T − T̄)/Σ(t − t̄)²`, sums taken about the means so that neither a late clock nor
    a high temperature costs digits. Fewer than two different times give NaN.
    """
    only: dict[str, Any] = {} if chosen is None else {"where": chosen}
    if chosen is None:
        count = np.full(time_s.shape[:-1], float(time_s.shape[-1]))[()]
    else:
        count = np.count_nonzero(chosen, axis=-1).astype(float)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean_s = time_s.sum(axis=-1, **only) / count
        mean_c = temperature_c.sum(axis=-1, **only) / count
        since, above = time_s - mean_s[..., None], temperature_c - mean_c[..., None]
        if chosen is not None:
            since, above = np.where(chosen, since, 0.0), np.where(chosen, above, 0.0)
        spread = np.vecdot(since, since)
        slope = np.vecdot(since, above) / np.where(spread > 0, spread, np.nan)
        left = above - slope[..., None] * since
        residual_sd = np.sqrt(np.vecdot(left, left) / np.where(count > 2, count - 2, np.nan))
        lag = np.vecdot(left[..., 1:], left[..., :-1])
    highest = temperature_c.max(axis=-1, initial=-np.inf, **only)
    lowest = temperature_c.min(axis=-1, initial=np.inf, **only)
    return Line(slope, mean_s, mean_c, count, residual_sd, spread, lag, highest - lowest)


@dataclass(frozen=True, eq=False)
class Missing:
    """The area between the after line and the curve of the main period, arrays of shape (...).

    area_k_s [K s]; chord_k_s [K s]: how much larger straight chords between the readings would
    make it; steps_s2 [s²]: the sum of the squared intervals, the lever of single readings.
    """

    area_k_s: Array
    chord_k_s: Array
    steps_s2: Array


@dataclass(frozen=True, eq=False)
class Rated:
    """A thermogram with both rating periods fitted; times [s] count from the firing.

    `settled_s` shape (...) is the end of the main period. `curve_s`, `curve_c` is the curve of the
    main period, shape (..., n): its readings between its ends, which lie on the two lines. The
    methods ask this class for all that runs along the curve, so that they need not know how the
    curves of many runs are laid out.
    """

    settled_s: Array
    fore: Line
    after: Line
    curve_s: Array
    curve_c: Array

    def along(self, values: Array) -> Array:
        """One value a run, shape (...), held against each point of its curve."""
        return np.asarray(values)[..., None]

    @cached_property
    def to_after_k(self) -> Array:
        """The distance [K] from the curve up to the after line at each of its points."""
        start, slope = self.after.at(0.0), self.after.slope
        return self.along(start) + self.along(slope) * self.curve_s - self.curve_c

    @cached_property
    def apart_k(self) -> Array:
        """The distance [K] from the fore line up to the after line at each point of the curve."""
        start = self.after.at(0.0) - self.fore.at(0.0)
        gained = self.after.slope - self.fore.slope
        return self.along(start) + self.along(gained) * self.curve_s

    @cached_property
    def steps_s(self) -> Array:
        """The intervals [s] between neighbouring points of the curve."""
        return np.diff(self.curve_s, axis=-1)

    def total(self, values: Array) -> Array:
        """The sum over the intervals of each run's curve, shape (...)."""
        return np.asarray(values.sum(axis=-1))[()]

    def bracket(self, falling: Array, level: float) -> tuple[Pair, Pair]:
        """The neighbours between which what falls along the curve first comes down to a level.

        Returns (times before and at, values before and at), each of shape (...), NaN where it
        starts at or below the level or never comes down to it.
        """
        reached = falling <= level
        if falling.ndim == 1:
            return _bracket_one(self.curve_s, falling, int(reached.argmax()))
        index = np.argmax(reached, axis=-1)[..., None]
        found = reached.any(axis=-1) & (index[..., 0] > 0)
        pair = (np.maximum(index - 1, 0), index)

        def take(values: Array) -> Pair:
            first, second = (np.take_along_axis(values, i, axis=-1)[..., 0] for i in pair)
            return np.where(found, first, np.nan), np.where(found, second, np.nan)

        return take(self.curve_s), take(falling)

    @cached_property
    def missing(self) -> Missing:
        """What the main period misses of the after line.

        A distance falling exponentially from a to b has the mean `(a − b)/ln(a/b)`, written
        `m·d/artanh(d)` with `m = (a + b)/2`, `d = (a − b)/(a + b)`; m where next to nothing is
        left of one of them, or the curve crosses the after line.
        """
        first, second = self.to_after_k[..., :-1], self.to_after_k[..., 1:]
        total, steps = first + second, self.steps_s
        with np.errstate(invalid="ignore", divide="ignore"):
            ratio = (first - second) / total
            bent = (np.abs(ratio) > 1e-4) & (np.abs(ratio) < NEARLY_ALL)
            share = np.where(bent, ratio / np.arctanh(ratio), 1.0)
        under = steps * total
        area, chords = self.total(under * share), self.total(under)
        return Missing(area / 2.0, (chords - area) / 2.0, self.total(steps * steps))


def _bracket_one(time_s: Array, falling: Array, index: int) -> tuple[Pair, Pair]:
    """The same for one run, from the first point at or below the level; 0 where none is behind."""
    if index == 0:
        none = np.array(np.nan)[()]
        return (none, none), (none, none)
    return (time_s[index - 1], time_s[index]), (falling[index - 1], falling[index])


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
    settled = np.asarray(settled_at_s - fired)[()]
    end = np.asarray(after_until_s - fired)
    if since.ndim == 1:
        return _rate_one(since, temperature_c, begin, settled, end)
    fore = fit_line(since, temperature_c, (since >= begin[..., None]) & (since <= 0.0))
    chosen = (since >= settled[..., None]) & (since <= end[..., None])
    after = fit_line(since, temperature_c, chosen)
    curve_s = np.clip(since, 0.0, settled[..., None])
    ends = np.where(since <= 0.0, fore.over(curve_s), after.over(curve_s))
    inside = (since > 0.0) & (since < settled[..., None])
    return Rated(settled, fore, after, curve_s, np.where(inside, temperature_c, ends))


def _rate_one(
    since: Array, temperature_c: Array, begin: Array, settled: Array, end: Array
) -> Rated:
    """The same for one run: each period is a slice of its readings."""
    first, settles = since.searchsorted(begin), since.searchsorted(settled)
    fires, last = (since.searchsorted(bound, side="right") for bound in (0.0, end))
    fore = fit_line(since[first:fires], temperature_c[first:fires])
    after = fit_line(since[settles:last], temperature_c[settles:last])
    main = slice(fires, settles)
    curve_s = np.concatenate(([0.0], since[main], [settled]))
    curve_c = np.concatenate(([fore.at(0.0)], temperature_c[main], [after.at(settled)]))
    return Rated(settled, fore, after, curve_s, curve_c)

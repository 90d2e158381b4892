"""The rating periods of many runs fitted at once, and their main periods laid end to end."""

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from reduction.batch.prepared import Prepared
from reduction.batch.stretches import Stretches, cut_by_readings
from reduction.thermogram import Line, Pair, Rated

Array = NDArray[np.float64]
Index = NDArray[np.intp]

NEAR = 32_768
"""Readings worked on together: few enough to stay close to the processor between two steps."""


@dataclass(frozen=True, eq=False)
class RatedRuns(Rated):
    """Many runs rated; `curve_s`, `curve_c` are packed as `curves`, all else has shape (runs,)."""

    curves: Stretches

    def along(self, values: Array) -> Array:
        """One value a run repeated along its curve."""
        return self.curves.along(values)

    def total(self, values: Array) -> Array:
        """The sum over each run's intervals; what stands between two runs is left out."""
        values[self.curves.last] = 0.0
        return np.add.reduceat(values, self.curves.start)

    def bracket(self, falling: Array, level: float) -> tuple[Pair, Pair]:
        """The neighbours between which each run's curve, which starts above, comes to a level."""
        start = self.curves.start
        reached = np.append(np.flatnonzero(falling <= level), falling.size - 1)
        index = reached[np.searchsorted(reached, start)]
        found = index < start + self.curves.count

        def take(values: Array) -> Pair:
            pair = (values[np.maximum(index - 1, 0)], values[index])
            return np.where(found, pair[0], np.nan), np.where(found, pair[1], np.nan)

        return take(self.curve_s), take(falling)


def rate_runs(ready: Prepared) -> RatedRuns:
    """Fit both rating periods of every run, times counted from each run's firing."""
    runs = ready.runs
    fore = _fit_lines(ready, ready.begin, ready.fired)
    after = _fit_lines(ready, ready.settled, ready.end)
    settled = runs.settled_at_s - runs.fired_at_s
    curves = _main_periods(ready)
    curve_s = curves.pack(runs.time_s) - curves.along(runs.fired_at_s)
    curve_c = curves.pack(runs.temperature_c)
    first, last = curves.start, curves.start + curves.count - 1
    curve_s[first], curve_c[first] = 0.0, fore.at(0.0)
    curve_s[last], curve_c[last] = settled, after.at(settled)
    return RatedRuns(settled, fore, after, curve_s, curve_c, curves)


def _main_periods(ready: Prepared) -> Stretches:
    """The main periods with the readings beside them, in whose places the ends are put.

    A run without readings or without an after period borrows any two, for nothing.
    """
    begin = np.clip(ready.fired - 1, 0, ready.runs.time_s.size - 2)
    end = np.where(ready.end > ready.settled, ready.settled + 1, begin + 2)
    return Stretches(begin, np.maximum(end, begin + 2))


def _fit_lines(ready: Prepared, begin: Index, end: Index) -> Line:
    """Lines through one period of every run, fitted a few runs at a time; times from the firing."""
    runs, lines = ready.runs, []
    for some in cut_by_readings(np.cumsum(end - begin), NEAR):
        stretches = Stretches(begin[some], end[some])
        lines.append(_fit(runs.time_s, runs.temperature_c, stretches, runs.fired_at_s[some]))
    columns = ([getattr(line, field.name) for line in lines] for field in fields(Line))
    return Line(*(np.concatenate(column) for column in columns))


def _fit(time_s: Array, temperature_c: Array, periods: Stretches, fired_at_s: Array) -> Line:
    """Ordinary least squares through each stretch, as `fit_line` does for one run.

    Sums are taken about the reading in the middle of the stretch, which costs no digits.
    """
    count = periods.count.astype(float)
    middle = np.minimum((periods.begin + periods.end) // 2, time_s.size - 1)
    centre_s, centre_c = time_s[middle], temperature_c[middle]
    time, left = periods.pack(time_s), periods.pack(temperature_c)
    time -= periods.along(centre_s)
    left -= periods.along(centre_c)
    range_k = periods.ranges(left)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean_s, mean_c = periods.sums(time) / count, periods.sums(left) / count
        spread = periods.sums(time * time) - count * mean_s**2
        spread = np.where(count > 0, spread, 0.0)
        slope = periods.sums(time * left) - count * mean_s * mean_c
        slope /= np.where(spread > 0, spread, np.nan)
        left -= periods.along(mean_c - slope * mean_s)
        time *= periods.along(slope)
        left -= time
        squares = periods.sums(np.multiply(left, left, out=time))
        residual_sd = np.sqrt(squares / np.where(count > 2, count - 2, np.nan))
    np.multiply(left[:-1], left[1:], out=time[:-1])
    time[periods.last] = 0.0
    lag = periods.sums(time)
    mean_s += centre_s - fired_at_s
    mean_c += centre_c
    return Line(slope, mean_s, mean_c, count, residual_sd, spread, lag, range_k)

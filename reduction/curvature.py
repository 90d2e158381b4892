"""Whether what follows a moment is straight: parabolas through every tail of the readings."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reduction.notes import Thresholds
from reduction.thermogram import Line, Periods, Thermogram, fit_line

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Curvature:
    """Parabolas through every tail of the after period, shape (n,): entry i uses readings i to end.

    `edge_k` is how far the parabola leaves its line at the ends of the tail [K], the leak's own
    bend taken off; `curved` whether that stands out of the scatter, matters to the rise, and is
    no mere rounding.
    """

    edge_k: Array
    curved: NDArray[np.bool_]


def after_curvature(
    thermogram: Thermogram, periods: Periods, limits: Thresholds
) -> tuple[float, bool]:
    """How far [K] the after period leaves its line at its ends, and whether that stands out."""
    settled = periods.fired_at_s if periods.settled_at_s is None else periods.settled_at_s
    time = thermogram.time_s
    starts = np.flatnonzero((time >= settled) & (time <= periods.after_until_s))
    if starts.size < limits.rating_readings:
        return 0.0, False
    tails = tail_curvature(thermogram, periods, starts, limits)
    return float(tails.edge_k[0]), bool(tails.curved[0])


def fore_curvature(
    thermogram: Thermogram, periods: Periods, until_s: float, limits: Thresholds
) -> tuple[float, bool]:
    """How far [K] the fore period, read up to a time, leaves its line at its ends.

    And whether that stands out. The leak's own bend is taken off where an after period tells it.
    """
    time, temperature = thermogram.time_s, thermogram.temperature_c
    chosen = (time >= periods.fore_from_s) & (time <= until_s)
    if np.count_nonzero(chosen) < limits.rating_readings:
        return 0.0, False
    settled = np.nan if periods.settled_at_s is None else periods.settled_at_s
    after = fit_line(time, temperature, (time >= settled) & (time <= periods.after_until_s))
    bend, lever = (part[0] for part in _parabolas(time[chosen], temperature[chosen], after))
    rise = float(temperature.max() - temperature[chosen].mean())
    step = thermogram.resolution_k
    least = max(
        limits.bend_sigmas * thermogram.scatter_k * lever,
        limits.fore_bend_share * abs(rise),
        step if thermogram.noise_k < step / 2.0 else step / 2.0,
    )
    return float(bend), bool(abs(bend) > least)


def tail_curvature(
    thermogram: Thermogram, periods: Periods, starts: NDArray[np.intp], limits: Thresholds
) -> Curvature:
    """The curvature of each tail from a start, an index of a reading, to the last of `starts`."""
    fore = _fore_line(thermogram, periods)
    time, temperature = thermogram.time_s[starts], thermogram.temperature_c[starts]
    edge, lever = _parabolas(time, temperature, fore)
    half_step = thermogram.resolution_k / 2.0
    rounding = half_step if thermogram.noise_k < half_step else 0.0
    rise = abs(float(temperature.max() - fore.mean_c))
    least = np.fmax(
        limits.curvature_sigmas * thermogram.scatter_k * lever,
        max(limits.curvature_share * rise, rounding),
    )
    return Curvature(edge, np.abs(edge) > least)


def _fore_line(thermogram: Thermogram, periods: Periods) -> Line:
    time = thermogram.time_s
    first = time.searchsorted(periods.fore_from_s)
    fore = slice(first, time.searchsorted(periods.fired_at_s, side="right"))
    return fit_line(time[fore], thermogram.temperature_c[fore])


def _parabolas(time_s: Array, temperature_c: Array, fore: Line) -> tuple[Array, Array]:
    """The bend [K] of every tail at its ends, and its uncertainty per scatter of one reading.

    With `u = (t − t_end)/L` the quadratic part is `P = (u − ū)² − m₂/n − (m₃/m₂)(u − ū)`, m the
    central sums; a leak k bends a drift g by `−k·g/2`, k from the two drifts (Newton's law).
    """
    length = max(float(time_s[-1] - time_s[0]), 1e-9)
    u, y = (time_s - time_s[-1]) / length, temperature_c - temperature_c[-1]
    n, square = np.arange(u.size, 0, -1.0), u * u
    s1, s2, s3, s4 = (_from_end(x) for x in (u, square, square * u, square * square))
    y0, y1, y2 = (_from_end(x) for x in (y, y * u, y * square))
    mean = s1 / n
    m2 = s2 - mean * s1
    m3 = s3 - mean * (3.0 * s2 - 2.0 * mean * s1)
    m4 = s4 - mean * (4.0 * s3 - mean * (6.0 * s2 - 3.0 * mean * s1))
    with np.errstate(invalid="ignore", divide="ignore"):
        with_line = y1 - mean * y0
        skew, wide = m3 / m2, m2 / n
        with_square = y2 - mean * (y1 + with_line) - wide * y0
        own = m4 - wide * m2 - skew * m3
        bend = (with_square - skew * with_line) / own
        slope = with_line / m2 / length
        leak = (fore.slope - slope) / (temperature_c[-1] + y0 / n - fore.mean_c)
        own_bend = leak * slope / 2.0 * length**2
        bend += np.where(np.isfinite(own_bend), own_bend, 0.0)
        reach = (u[-1] - u) ** 2 / 6.0
        return bend * reach, reach / np.sqrt(np.where(own > 0, own, np.nan))


def _from_end(values: Array) -> Array:
    """Sums of each entry and all behind it."""
    return np.asarray(np.cumsum(values[::-1])[::-1])

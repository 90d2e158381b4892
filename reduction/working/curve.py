"""What the working takes as given from the readings: sums, the curve, the area above it.

Times [s] by the clock of the readings, temperatures [°C], all as plain numbers.
"""

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from reduction.inputs import Readings
from reduction.thermogram import Thermogram, rate

Point = tuple[float, float]


@dataclass(frozen=True)
class RatingLine:
    """The least-squares line of a rating period and the sums it is found from."""

    points: tuple[Point, ...]

    @cached_property
    def sum_s(self) -> float:
        return math.fsum(time for time, _ in self.points)

    @cached_property
    def sum_c(self) -> float:
        return math.fsum(temperature for _, temperature in self.points)

    @property
    def mean_s(self) -> float:
        return self.sum_s / len(self.points)

    @property
    def mean_c(self) -> float:
        return self.sum_c / len(self.points)

    @cached_property
    def spread_s2(self) -> float:
        return math.fsum((time - self.mean_s) ** 2 for time, _ in self.points)

    @cached_property
    def products_k_s(self) -> float:
        return math.fsum((t - self.mean_s) * (c - self.mean_c) for t, c in self.points)

    def at(self, time_s: float) -> float:
        return self.mean_c + self.products_k_s / self.spread_s2 * (time_s - self.mean_s)


@dataclass(frozen=True)
class Curve:
    """Both lines, and the curve of the main period from the one to the other.

    missing_k_s [K s] is the area between the after line and the curve, chords_k_s the same by the
    trapezoid rule.
    """

    fore: RatingLine
    after: RatingLine
    fired_s: float
    settled_s: float
    main: tuple[Point, ...]
    missing_k_s: float
    chords_k_s: float

    @cached_property
    def shares(self) -> tuple[float, ...]:
        """The share of the rise still missing at each point."""
        return tuple(
            (self.after.at(t) - c) / (self.after.at(t) - self.fore.at(t)) for t, c in self.main
        )


def fore_line(readings: Readings, periods: dict[str, Any]) -> RatingLine:
    begin, end = periods["fore_from_s"], periods["fired_at_s"]
    return RatingLine(tuple(p for p in _points(_in_order(readings)) if begin <= p[0] <= end))


def curve_of(readings: Readings, periods: dict[str, Any]) -> Curve | None:
    """The curve for the periods kept with the result; None without a settled after period."""
    bounds = [periods[k] for k in ("fore_from_s", "fired_at_s", "settled_at_s", "after_until_s")]
    begin, fired, settled, last = bounds
    if settled is None:
        return None
    thermogram = _in_order(readings)
    points = _points(thermogram)
    fore = RatingLine(tuple(p for p in points if begin <= p[0] <= fired))
    after = RatingLine(tuple(p for p in points if settled <= p[0] <= last))
    if any(len({time for time, _ in line.points}) < 2 for line in (fore, after)):
        return None
    inside = [point for point in points if fired < point[0] < settled]
    main = ((fired, fore.at(fired)), *inside, (settled, after.at(settled)))
    missing = rate(thermogram.time_s, thermogram.temperature_c, *bounds).missing
    area, more = float(missing.area_k_s), float(missing.chord_k_s)
    return Curve(fore, after, fired, settled, main, area, area + more)


def latest(readings: Readings) -> Point:
    """The last reading."""
    return _points(_in_order(readings))[-1]


def _in_order(readings: Readings) -> Thermogram:
    return Thermogram.of(readings.time_s, readings.temperature_c)


def _points(thermogram: Thermogram) -> list[Point]:
    pairs = zip(thermogram.time_s.tolist(), thermogram.temperature_c.tolist(), strict=True)
    return list(pairs)

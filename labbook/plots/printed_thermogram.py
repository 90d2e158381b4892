"""A thermogram for a report: one drawing without scripts or styles, black on white.

Readings and, where they may be shown, both drift lines drawn on to the crossing and the rise there.
All lengths are millimetres of paper; the axes carry their quantities with units.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from math import ceil, floor, log10

import numpy as np
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from numpy.typing import ArrayLike, NDArray

from labbook.typesetting.numbers import set_decimal

from .found import Found, Reduced, found_in

WIDTH, HEIGHT = 160, 100
LEFT, RIGHT, ABOVE, BELOW = 20, 4, 4, 15
MOST_MARKS = 200  # more readings than that are a line
FONT = "DejaVu Sans, Liberation Sans, sans-serif"
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Axis:
    """Values along a length of paper, with ticks at round ones."""

    low: float
    high: float
    length: int
    step: Decimal

    def place(self, value: ArrayLike) -> Array:
        found: Array = (np.asarray(value, float) - self.low) / (self.high - self.low) * self.length
        return found

    def ticks(self) -> Iterator[tuple[float, str]]:
        first, last = ceil(self.low / float(self.step)), floor(self.high / float(self.step))
        for count in range(first, last + 1):
            yield float(self.place(float(count * self.step))), set_decimal(count * self.step)


def axis_over(values: Array, length: int, ticks: int) -> Axis:
    """An axis with a little room at both ends; equal values get a span of one."""
    low, high = float(values.min()), float(values.max())
    room = 0.04 * (high - low) or 0.5
    step = (high - low or 1.0) / ticks
    power = floor(log10(step))
    digit = next(d for d in (1, 2, 5, 10) if d * 10.0**power >= step * (1 - 1e-9))
    return Axis(low - room, high + room, length, Decimal(digit).scaleb(power))


def printed_thermogram(
    time_s: ArrayLike, temperature_c: ArrayLike, reduction: Reduced | None, words: str
) -> str:
    """Readings (time [s], temperature [°C], in order of time) as SVG; ``words`` says what it is."""
    t, temperature = np.asarray(time_s, float), np.asarray(temperature_c, float)
    across = axis_over(t, WIDTH - LEFT - RIGHT, 6)
    up = axis_over(temperature, HEIGHT - ABOVE - BELOW, 6)
    marks = [_frame(across, up), _readings(across.place(t), up.length - up.place(temperature))]
    if reduction:
        marks += _lines(found_in(reduction, t), across, up)
    return format_html(
        '<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{0}mm" height="{1}mm" '
        'viewBox="0 0 {0} {1}" font-family="{2}" font-size="3.2"><title>{3}</title>'
        '<rect width="{0}" height="{1}" fill="#fff"/><g transform="translate({4} {5})">{6}</g>'
        "</svg>\n",
        *(WIDTH, HEIGHT, FONT, words, LEFT, ABOVE),
        format_html_join("", "{}", ((mark,) for mark in marks)),
    )


def _frame(across: Axis, up: Axis) -> SafeString:
    below = format_html_join(
        "",
        '<path d="M{0} {1}v1.5" stroke="#000" stroke-width="0.25"/>'
        '<text x="{0}" y="{2}" text-anchor="middle">{3}</text>',
        ((f"{x:.2f}", up.length, up.length + 5.5, words) for x, words in across.ticks()),
    )
    beside = format_html_join(
        "",
        '<path d="M-1.5 {0}h1.5" stroke="#000" stroke-width="0.25"/>'
        '<text x="-2.5" y="{1}" text-anchor="end">{2}</text>',
        ((f"{up.length - y:.2f}", f"{up.length - y + 1.1:.2f}", w) for y, w in up.ticks()),
    )
    return format_html(
        '<rect width="{0}" height="{1}" fill="none" stroke="#000" stroke-width="0.25"/>{2}{3}'
        '<text x="{4}" y="{5}" text-anchor="middle" font-size="3.6">Time (s)</text>'
        '<text transform="translate({6} {7}) rotate(-90)" text-anchor="middle" font-size="3.6">'
        "Temperature (°C)</text>",
        *(across.length, up.length, below, beside),
        *(across.length / 2, up.length + 12, -LEFT + 4.5, up.length / 2),
    )


def _readings(x: Array, y: Array) -> SafeString:
    places = [f"{left:.2f} {top:.2f}" for left, top in zip(x, y, strict=True)]
    if len(places) > MOST_MARKS:
        path = "M" + "L".join(places)
        return format_html('<path d="{}" fill="none" stroke="#000" stroke-width="0.3"/>', path)
    path = "".join(f"M{place}h0" for place in places)
    return format_html(
        '<path d="{}" stroke="#000" stroke-width="0.9" stroke-linecap="round"/>', path
    )


def _lines(found: Found, across: Axis, up: Axis) -> Iterator[SafeString]:
    """Each line solid over its period and dashed on to the crossing; the rise where they end."""
    inner = {"fore": found.fired, "after": found.settled}
    outer = {"fore": found.start, "after": found.end}
    for role, line in found.lines.items():
        begun = inner[role]
        if begun is None:
            continue
        pieces = [(outer[role], begun, "none")]
        if found.crossing:
            pieces.append((begun, found.crossing.at_s, "2 1"))
        for start, end, dashes in pieces:
            ends = np.array([start, end])
            yield _stroke(across.place(ends), up.length - up.place(line.at(ends)), dashes)
    if found.crossing and found.bracket:
        x = float(across.place(found.crossing.at_s))
        feet = up.length - up.place(np.array(found.bracket))
        yield _stroke(np.array([x, x]), feet, "none")
        yield format_html(
            '<text x="{}" y="{}">Δ<tspan font-style="italic">T</tspan></text>',
            *(f"{x + 2:.2f}", f"{feet.mean() + 8:.2f}"),
        )


def _stroke(x: Array, y: Array, dashes: str) -> SafeString:
    return format_html(
        '<path d="M{} {}L{} {}" fill="none" stroke="#000" stroke-width="0.45" '
        'stroke-dasharray="{}"/>',
        *(f"{value:.2f}" for value in (x[0], y[0], x[1], y[1])),
        dashes,
    )

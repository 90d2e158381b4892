"""Squared paper for the extrapolation by hand: readings in, a drawing true to scale out.

One millimetre of paper stands for a round amount (1, 2 or 5 times a power of ten), and the paper
begins at a ruled line, so that values are set in and read off with a ruler. Nothing computed is
drawn: the lines are the reader's to draw.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal

import numpy as np
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from numpy.typing import ArrayLike, NDArray

from labbook.typesetting.numbers import set_decimal

Array = NDArray[np.float64]

# All lengths are millimetres of paper.
SQUARE = 10
LEFT, RIGHT, ABOVE, BELOW = 19, 4, 8, 16
SPARE = 3  # left free below and above the readings: lines drawn on need it
ARM = 1  # of a cross, from its middle
CLOSEST = 2 * ARM  # a cross nearer to the one before would run together with it
RULED = ((1, "0.05"), (5, "0.12"), (10, "0.25"))
BAR = 100
FINEST_K = Decimal("0.001")
FINEST_S = Decimal("0.1")


@dataclass(frozen=True)
class Scale:
    """Along one axis: the value at its beginning, and what one millimetre stands for."""

    start: Decimal
    per_mm: Decimal
    length: int

    def place(self, values: ArrayLike) -> Array:
        """Where values stand, in mm from the beginning of the axis."""
        offsets: Array = np.asarray(values, dtype=float) - float(self.start)
        return offsets / float(self.per_mm)

    def caption(self, at: int) -> str:
        value = self.start + at * self.per_mm
        last = min(0, (self.per_mm * SQUARE).adjusted())
        return set_decimal(value.quantize(Decimal(1).scaleb(last)))

    @property
    def per_mm_words(self) -> str:
        return set_decimal(self.per_mm)


def scale_over(low: float, high: float, length: int, finest: Decimal, spare: int = 0) -> Scale:
    """The finest round scale on which low to high fits in a length, with paper to spare."""
    return next(
        scale
        for per_mm in _round_steps(finest)
        if (scale := _begun(low, per_mm, length, spare)).place(high) <= length - spare
    )


def _begun(low: float, per_mm: Decimal, length: int, spare: int) -> Scale:
    """Begun at the last thick line that leaves enough paper before ``low``."""
    squares = (Decimal(repr(low)) / per_mm - spare) / SQUARE
    return Scale(squares.to_integral_value(ROUND_FLOOR) * SQUARE * per_mm, per_mm, length)


def _round_steps(finest: Decimal) -> Iterator[Decimal]:
    power = finest.adjusted()
    while True:
        yield from (Decimal(digit).scaleb(power) for digit in (1, 2, 5))
        power += 1


@dataclass(frozen=True)
class PlotPaper:
    """The drawing, its scales (None where they are left to the reader), the readings on it."""

    drawing: SafeString
    time: Scale | None = None
    temperature: Scale | None = None
    drawn: int = 0


def blank_paper(grid: tuple[int, int]) -> PlotPaper:
    """Squares alone; the captions are lines to write on."""
    return PlotPaper(_drawing(grid, "Squared paper, blank.", _lines_to_write_on(grid)))


def plot_paper(
    time_s: ArrayLike,
    temperature_c: ArrayLike,
    grid: tuple[int, int],
    fired_at_s: float | None = None,
) -> PlotPaper:
    """Readings (time [s], temperature [°C], in order of time) as crosses on squared paper.

    Where readings lie closer than 2 mm, only as many are drawn as stand apart. ``fired_at_s`` is
    the firing as it was marked.
    """
    t, temperature = (np.asarray(values, dtype=float) for values in (time_s, temperature_c))
    if not t.size:
        return blank_paper(grid)
    across = scale_over(float(t.min()), float(t.max()), grid[0], FINEST_S)
    lowest, highest = float(temperature.min()), float(temperature.max())
    up = scale_over(lowest, highest, grid[1], FINEST_K, SPARE)
    x, y = across.place(t), grid[1] - up.place(temperature)
    kept = standing_apart(x, y)
    marks = [_crosses(x[kept], y[kept]), _captions(across, up), *_firing(fired_at_s, across)]
    words = f"Squared paper with {len(kept)} readings as crosses."
    return PlotPaper(_drawing(grid, words, *marks), across, up, len(kept))


def standing_apart(x: Array, y: Array) -> list[int]:
    """The places [mm] at least a cross's width on from the last one kept."""
    kept = [0]
    for i in range(1, len(x)):
        if np.hypot(x[i] - x[kept[-1]], y[i] - y[kept[-1]]) >= CLOSEST:
            kept.append(i)
    return kept


def _drawing(grid: tuple[int, int], words: str, *marks: SafeString) -> SafeString:
    """One unit of the drawing is one millimetre, on paper too."""
    width, height = grid[0] + LEFT + RIGHT, grid[1] + ABOVE + BELOW
    return format_html(
        '<svg class="plot-paper" role="img" aria-label="{}" width="{}mm" height="{}mm" '
        'viewBox="{} {} {} {}" font-family="DejaVu Sans, Liberation Sans, sans-serif" '
        'font-size="3">{}{}{}{}</svg>',
        words,
        *(width, height),
        *(-LEFT, -ABOVE, width, height),
        _squares(grid),
        _axis_titles(grid),
        _bar(grid),
        format_html_join("", "{}", ((mark,) for mark in marks)),
    )


def _squares(grid: tuple[int, int]) -> SafeString:
    width, height = grid
    return format_html_join(
        "",
        '<path d="{}" fill="none" stroke="#000" stroke-width="{}"/>',
        (
            (
                _joined(f"M{x} 0V{height}" for x in range(0, width + 1, step))
                + _joined(f"M0 {y}H{width}" for y in range(0, height + 1, step)),
                thickness,
            )
            for step, thickness in RULED
        ),
    )


def _joined(pieces: Iterable[str]) -> str:
    return "".join(pieces)


def _axis_titles(grid: tuple[int, int]) -> SafeString:
    width, height = grid
    return format_html(
        '<text x="{}" y="{}" text-anchor="end" font-size="3.6">Time (s)</text>'
        '<text transform="translate({} 0) rotate(-90)" text-anchor="end" font-size="3.6">'
        "Temperature (°C)</text>",
        *(width, height + 9.5, -LEFT + 4),
    )


def _bar(grid: tuple[int, int]) -> SafeString:
    """To be measured with a ruler: a print that was scaled to fit shows here."""
    y = grid[1] + 11
    return format_html(
        '<path d="M0 {0}v4m0 -2h{1}m0 -2v4" fill="none" stroke="#000" stroke-width="0.25"/>'
        '<text x="{2}" y="{3}">This bar is {1} mm long. If not, print again at 100 %.</text>',
        *(y, BAR, BAR + 3, y + 3),
    )


def _crosses(x: Array, y: Array) -> SafeString:
    path = _joined(
        f"M{left:.2f} {top:.2f}h{2 * ARM}m{-ARM} {-ARM}v{2 * ARM}"
        for left, top in zip(x - ARM, y, strict=True)
    )
    return format_html(
        '<path class="readings" d="{}" fill="none" stroke="#000" stroke-width="0.35"/>', path
    )


def _captions(across: Scale, up: Scale) -> SafeString:
    height = up.length
    return _texts(
        '<text x="{}" y="{}" text-anchor="middle">{}</text>',
        ((at, height + 5, across.caption(at)) for at in range(0, across.length + 1, 2 * SQUARE)),
    ) + _texts(
        '<text x="-2" y="{}" text-anchor="end">{}</text>',
        ((height - at + 1.1, up.caption(at)) for at in range(0, height + 1, SQUARE)),
    )


def _texts(form: str, rows: Iterable[tuple[object, ...]]) -> SafeString:
    return format_html_join("", form, rows)


def _lines_to_write_on(grid: tuple[int, int]) -> SafeString:
    width, height = grid
    below = (f"M{x - 6} {height + 6}h12" for x in range(0, width + 1, 2 * SQUARE))
    beside = (f"M-13 {height - y + 1}h12" for y in range(0, height + 1, 2 * SQUARE))
    return format_html(
        '<path d="{}" fill="none" stroke="#000" stroke-width="0.15"/>',
        _joined([*below, *beside]),
    )


def _firing(fired_at_s: float | None, across: Scale) -> list[SafeString]:
    """An arrow from above at the moment of firing as it was marked, where it is on the paper."""
    place = None if fired_at_s is None else float(across.place(fired_at_s))
    if place is None or not 0 <= place <= across.length:
        return []
    arrow = f"M{place:.2f} 0l-1.2 -3h2.4z"
    return [
        format_html(
            '<path class="firing" d="{}"/><text x="{}" y="-4" text-anchor="middle">fired</text>',
            *(arrow, f"{place:.2f}"),
        )
    ]

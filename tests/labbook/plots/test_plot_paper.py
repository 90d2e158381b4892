"""Squared paper: round scales, readings where they belong, nothing computed."""

from __future__ import annotations

import re
from decimal import Decimal

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from labbook.plots.plot_paper import FINEST_K, blank_paper, plot_paper, scale_over, standing_apart

GRID = (250, 150)
CROSS = re.compile(r"M(-?[\d.]+) (-?[\d.]+)h2m-1 -1v2")


def crosses(drawing: str) -> list[tuple[float, float]]:
    """Where the middles of the crosses stand, in mm from the upper left corner of the squares."""
    return [(float(x) + 1, float(y)) for x, y in CROSS.findall(drawing)]


def test_readings_stand_where_a_ruler_finds_them() -> None:
    paper = plot_paper([0, 300, 1200], [22.10, 22.10, 24.70], GRID)
    assert paper.time is not None and paper.temperature is not None
    assert (paper.time.per_mm_words, paper.temperature.per_mm_words) == ("5", "0.02")
    assert (paper.time.start, paper.temperature.start) == (0, 22)
    # 22.10 °C is 5 mm above the foot at 22.0 °C; 1200 s is 240 mm from the left.
    assert crosses(paper.drawing) == [(0, 145), (60, 145), (240, 15)]


def test_one_unit_of_the_drawing_is_one_millimetre() -> None:
    drawing = plot_paper([0, 600], [22, 24], GRID).drawing
    size = re.search(r'width="(\d+)mm" height="(\d+)mm" viewBox="\S+ \S+ (\d+) (\d+)"', drawing)
    assert size is not None and size[1] == size[3] and size[2] == size[4]
    assert "M0 161v4m0 -2h100m0 -2v4" in drawing, "the bar to be measured"


@given(
    low=st.floats(-20, 60, allow_nan=False),
    span=st.floats(0, 1e4, allow_nan=False),
    length=st.integers(60, 300),
)
def test_a_millimetre_is_always_worth_a_round_amount(low: float, span: float, length: int) -> None:
    scale = scale_over(low, low + span, length, FINEST_K, 3)
    digits = scale.per_mm.normalize().as_tuple()
    assert digits.digits in ((1,), (2,), (5,))
    first, last = scale.place([low, low + span])
    assert 3 - 1e-6 <= first <= last <= length - 3 + 1e-6
    assert (scale.start / scale.per_mm) % 10 == 0, "it begins at a thick line"
    finer = {1: Decimal("0.5"), 2: Decimal("0.5"), 5: Decimal("0.4")}[digits.digits[0]]
    squares = length - 6 - 10  # what the next finer scale has at least, wherever it begins
    assert scale.per_mm <= FINEST_K or span > float(scale.per_mm * finer) * squares


def test_readings_too_close_to_tell_apart_are_thinned() -> None:
    time = np.arange(2000.0)
    paper = plot_paper(time, 22 + 2.5 * np.clip((time - 300) / 400, 0, 1), GRID)
    places = np.array(crosses(paper.drawing))
    assert len(places) == paper.drawn < 2000
    assert (np.hypot(*np.diff(places, axis=0).T) > 1.98).all()
    assert standing_apart(np.array([0.0, 1.0, 2.0]), np.zeros(3)) == [0, 2]


def test_only_readings_and_the_mark_of_firing_are_drawn() -> None:
    drawing = plot_paper([0, 300, 1200], [22.1, 22.1, 24.7], GRID, fired_at_s=300).drawing
    assert drawing.count('class="firing"') == 1 and "M60.00 0l" in drawing
    assert len(re.findall("<path", drawing)) == 3 + 3, "three rulings; bar, crosses, mark"
    assert 'class="firing"' not in plot_paper([0, 9], [22, 23], GRID, fired_at_s=5000).drawing


def test_axes_name_their_units_and_captions_are_exact() -> None:
    drawing = plot_paper([0, 1200], [22.1, 24.7], GRID).drawing
    assert "Time (s)" in drawing and "Temperature (°C)" in drawing
    assert ">22.2<" in drawing and ">24.8<" in drawing and ">1200<" in drawing


def test_blank_paper_leaves_the_scale_to_the_reader() -> None:
    paper = blank_paper(GRID)
    assert paper.time is None and not crosses(paper.drawing)
    assert plot_paper([], [], GRID) == paper

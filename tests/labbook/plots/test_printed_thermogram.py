"""The thermogram for a report: round ticks, titles with units, and only what may be shown."""

from __future__ import annotations

from xml.etree import ElementTree

import numpy as np
import pytest

from labbook.plots.printed_thermogram import MOST_MARKS, axis_over, printed_thermogram

T = np.arange(0.0, 1201.0, 15.0)
TEMPERATURE = 22.5 + 1.3 / (1 + np.exp(-(T - 400) / 40))
REDUCED = {
    "periods": {"fired_at_s": 300.0, "settled_at_s": 700.0},
    "drift": {
        "fore": {"at_s": 150.0, "at_c": 22.5, "slope_k_per_s": 1e-4},
        "after": {"at_s": 950.0, "at_c": 23.8, "slope_k_per_s": 0.0},
    },
    "rise": {"fraction": {"at_s": 380.0, "rise_k": 1.28}},
    "rise_used": {"method": "fraction"},
}


def words_in(drawing: str) -> list[str]:
    tree = ElementTree.fromstring(drawing)
    return ["".join(text.itertext()) for text in tree.iter("{http://www.w3.org/2000/svg}text")]


def test_it_is_a_file_of_its_own_with_units_at_both_axes() -> None:
    words = words_in(printed_thermogram(T, TEMPERATURE, None, "Run <7>"))
    assert {"Time (s)", "Temperature (°C)", "200", "23.0"} <= set(words)
    assert "ΔT" not in words


def test_the_lines_and_the_rise_are_drawn_where_they_are_given() -> None:
    drawn = printed_thermogram(T, TEMPERATURE, REDUCED, "Run 7")
    assert "ΔT" in words_in(drawn)
    assert drawn.count('stroke-dasharray="2 1"') == 2


def test_many_readings_are_a_line() -> None:
    t = np.linspace(0.0, 1200.0, MOST_MARKS + 1)
    assert "stroke-linecap" not in printed_thermogram(t, t / 600, None, "Run 7")
    assert "stroke-linecap" in printed_thermogram(T, TEMPERATURE, None, "Run 7")


@pytest.mark.parametrize("values", [[22.5], [22.5, 22.5], [0.0, 1200.0], [-0.4, 0.0021]])
def test_ticks_are_round_and_on_the_paper(values: list[float]) -> None:
    axis = axis_over(np.array(values), 100, 6)
    places = [place for place, _ in axis.ticks()]
    assert len(places) >= 3
    assert all(0 <= place <= 100 for place in places)

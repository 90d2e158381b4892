"""The thermogram: what is drawn where, and what is left out when it was not found."""

import re
from pathlib import Path
from typing import Any

import numpy as np
import plotly.graph_objects as go
import pytest

from labbook.plots.found import found_in
from labbook.plots.thermogram import thermogram

from .checking import checked, sent

TOKENS = Path(__file__).parents[3] / "labbook/static/labbook/tokens.css"
T = np.arange(0.0, 1201.0, 15.0)


def reduced(**changes: Any) -> dict[str, Any]:
    """Two straight lines, 2 K apart at 360 s: fore 20 + 0.001 t, after 22.36 - 0.001 (t - 0)."""
    return {
        "periods": {
            "fore_from_s": 0.0,
            "fired_at_s": 300.0,
            "settled_at_s": 600.0,
            "after_until_s": 1200.0,
        },
        "drift": {
            "fore": {"slope_k_per_s": 0.001, "at_s": 150.0, "at_c": 20.15},
            "after": {"slope_k_per_s": -0.001, "at_s": 900.0, "at_c": 21.82},
        },
        "rise": {
            "fraction": {"rise_k": 2.0, "at_s": 360.0},
            "regnault_pfaundler": {"rise_k": 2.01},
        },
        "rise_used": {"method": "regnault_pfaundler", "rise_k": 2.01},
        **changes,
    }


def temperatures() -> np.ndarray:
    return np.where(T < 330, 20 + 0.001 * T, 22.72 - 0.001 * T)


def drawn(reduction: dict[str, Any] | None) -> go.Figure:
    return checked(thermogram(T, temperatures(), reduction))


def named(figure: go.Figure, name: str) -> Any:
    return next(trace for trace in figure.data if trace.name == name)


def test_readings_are_drawn_as_given() -> None:
    figure = drawn(reduced())
    np.testing.assert_array_equal(figure.data[0].x, T)
    np.testing.assert_array_equal(figure.data[0].y, temperatures())
    assert figure.layout.xaxis.title.text == "Time (s)"
    assert figure.layout.yaxis.title.text == "Temperature (°C)"
    assert figure.layout.yaxis2.title.text == "Residual (mK)"


def test_drift_lines_run_through_their_period_and_on_to_the_crossing() -> None:
    figure = drawn(reduced())
    assert list(named(figure, "fore line").x) == [0, 300]
    np.testing.assert_allclose(named(figure, "fore line").y, [20.0, 20.3])
    assert list(named(figure, "fore line, drawn on").x) == [300, 360]
    assert list(named(figure, "after line, drawn on").x) == [600, 360]
    np.testing.assert_allclose(named(figure, "after line, drawn on").y, [22.12, 22.36])
    assert named(figure, "fore line, drawn on").line.dash == "dash"


def test_rise_is_a_bracket_between_the_lines_labelled_with_the_method_that_has_the_crossing() -> (
    None
):
    figure = drawn(reduced())
    bracket = named(figure, "corrected rise")
    assert list(bracket.x) == [360, 360]
    np.testing.assert_allclose(bracket.y, [20.36, 22.36])
    words = next(a.text for a in figure.layout.annotations if a.name == "crossing")
    assert words == "ΔT = 2.0000 K<br>fraction of the rise, 0.632"


def test_residuals_are_millikelvin_off_their_own_line() -> None:
    wavy = temperatures() + np.where(T == 75, 0.002, 0.0)
    strip = named(checked(thermogram(T, wavy, reduced())), "fore residuals")
    assert strip.yaxis == "y2" and strip.x.max() == 300
    np.testing.assert_allclose(strip.y[strip.x == 75], [2.0], atol=1e-6)
    np.testing.assert_allclose(strip.y[strip.x != 75], 0.0, atol=1e-6)


def test_bounds_name_the_input_they_move_and_nothing_else_lies_above_the_data() -> None:
    shapes = drawn(reduced()).layout.shapes
    above = {shape.name: shape.x0 for shape in shapes if shape.layer != "below"}
    assert above == {"bound:fired_at_s": 300, "bound:settled_at_s": 600}


def test_periods_are_fields_with_words() -> None:
    figure = drawn(reduced())
    fields = [(s.name, s.x0, s.x1) for s in figure.layout.shapes if s.type == "rect"]
    assert fields == [
        ("fore-period", 0, 300),
        ("main-period", 300, 600),
        ("after-period", 600, 1200),
    ]
    assert [a.text for a in figure.layout.annotations[:3]] == ["fore", "main", "after"]


def test_without_an_after_period_nothing_is_guessed() -> None:
    whole = reduced()
    figure = drawn(
        {
            "periods": {**whole["periods"], "settled_at_s": None},
            "drift": {"fore": whole["drift"]["fore"], "after": None},
            "rise": {"fraction": {"rise_k": None, "why": "No after period."}},
            "rise_used": {"method": "heat_balance", "rise_k": 2.0},
        }
    )
    assert {trace.name for trace in figure.data} == {"readings", "fore line", "fore residuals"}
    assert [s.name for s in figure.layout.shapes] == [
        "fore-period",
        "main-period",
        "bound:fired_at_s",
    ]


@pytest.mark.parametrize("nothing", [None, {}])
def test_readings_alone_are_drawn_without_a_reduction(nothing: dict[str, Any] | None) -> None:
    figure = drawn(nothing)
    assert len(figure.data) == 1 and not figure.layout.shapes
    assert figure.layout.yaxis.domain is None


def test_the_crossing_of_the_method_used_comes_first() -> None:
    rises = {"equal_areas": {"rise_k": 2.1, "at_s": 361.0}, "fraction": {"rise_k": 2, "at_s": 360}}
    used = {"method": "fraction", "rise_k": 2}
    assert found_in(reduced(rise=rises, rise_used=used), T).crossing.at_s == 360
    assert found_in(reduced(rise=rises), T).crossing.at_s == 361


def test_five_thousand_readings_have_no_markers() -> None:
    t = np.linspace(0, 1200, 5000)
    figure = checked(thermogram(t, np.interp(t, T, temperatures()), reduced()))
    assert not any("markers" in trace.mode for trace in figure.data if len(trace.x) > 400)


def test_every_role_has_a_colour_and_no_mark_brings_its_own() -> None:
    figure = drawn(reduced())
    roles = {trace.meta["role"] for trace in figure.data}
    roles |= {shape.name.split(":")[0] for shape in figure.layout.shapes}
    roles |= {annotation.name for annotation in figure.layout.annotations}
    assert roles <= set(re.findall(r"--plot-([\w-]+):", TOKENS.read_text()))
    html = sent(thermogram(T, temperatures(), reduced()))
    assert not re.search(r'"color"|rgb|#[0-9a-f]{6}', html) and "<i>" not in html

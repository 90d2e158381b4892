"""The heat-capacity history: nothing hidden, shapes as well as colours."""

import re
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import plotly.graph_objects as go
import pytest

from labbook.plots import history as drawn
from labbook.plots.history import MARKS

from .checking import checked, sent

TOKENS = Path(__file__).parents[3] / "labbook/static/labbook/tokens.css"
DAYS = [date(2025, month, 3) for month in range(1, 7)]
STATES = ["approved", "approved", "withdrawn", "approved", "set aside", "in force"]


def points() -> list[Any]:
    return [
        {
            "at": day,
            "j_per_k": 10100.0 + 10 * i,
            "low": None if i == 0 else 10090.0 + 10 * i,
            "high": None if i == 0 else 10120.0 + 10 * i,
            "state": state,
            "words": f"standardization {i}",
        }
        for i, (day, state) in enumerate(zip(DAYS, STATES, strict=True))
    ]


def step(day: date, mean: float | None) -> Any:
    return {
        "at": day,
        "mean": mean,
        "low": mean and mean - 30,
        "high": mean and mean + 30,
    }


def history(*given: Any, **more: Any) -> go.Figure:
    return checked(drawn(*given, **more))


def named(figure: go.Figure, name: str) -> Any:
    return next(trace for trace in figure.data if trace.name == name)


def test_every_point_is_drawn_whatever_its_state() -> None:
    figure = history(points(), [], [])
    marks = [trace for trace in figure.data if trace.mode == "markers"]
    assert sorted(y for trace in marks for y in trace.y) == [p["j_per_k"] for p in points()]


def test_states_differ_in_shape_and_those_out_of_the_means_are_hollow() -> None:
    figure = history(points(), [], [])
    symbols = {t.name: t.marker.symbol for t in figure.data if t.mode == "markers"}
    assert len(set(symbols.values())) == len(symbols)
    assert {name for name, symbol in symbols.items() if "open" in symbol} == {
        "withdrawn",
        "set aside",
    }
    assert named(figure, "in force").marker.size > named(figure, "approved").marker.size


def test_intervals_reach_from_low_to_high_and_one_run_has_none() -> None:
    approved = named(history(points(), [], []), "approved")
    np.testing.assert_array_equal(approved.error_y.array, [np.nan, 20.0, 20.0])
    np.testing.assert_array_equal(approved.error_y.arrayminus, [np.nan, 10.0, 10.0])


def test_band_is_a_step_from_each_moment_to_the_next() -> None:
    figure = history(points(), [step(DAYS[3], 10110.0), step(DAYS[5], 10115.0)], [])
    mean = named(figure, "mean of earlier values")
    assert mean.line.shape == "hv"
    assert list(mean.x) == [DAYS[3], DAYS[5], DAYS[5]]
    assert list(mean.y) == [10110.0, 10115.0, 10115.0]
    upper = named(figure, "where a value was expected")
    assert upper.fill == "tonexty" and list(upper.y) == [10140.0, 10145.0, 10145.0]


def test_band_breaks_off_where_a_new_configuration_begins() -> None:
    band = [step(DAYS[1], 10110.0), step(DAYS[2], None), step(DAYS[4], 10120.0)]
    figure = history(points(), band, [])
    means = [t for t in figure.data if t.name == "mean of earlier values"]
    assert [list(t.x) for t in means] == [[DAYS[1], DAYS[2]], [DAYS[4], DAYS[5]]]
    assert [t.showlegend for t in means] == [True, False]


def test_changes_are_upright_marks_with_their_words() -> None:
    figure = history(points(), [], [{"at": DAYS[2], "words": "head changed"}])
    mark = figure.layout.shapes[0]
    assert (mark.x0, mark.x1, mark.label.text.strip()) == (DAYS[2], DAYS[2], "head changed")
    assert mark.layer == "below"


def test_the_hairline_is_cut_where_something_changed() -> None:
    figure = history(points(), [], [{"at": date(2025, 3, 20), "words": "head changed"}])
    line = next(t for t in figure.data if t.mode == "lines")
    assert [y is None for y in line.y] == [False, False, True, False, False]


def test_band_is_drawn_on_to_the_day_asked_for_and_the_axis_as_far_as_the_window() -> None:
    window = (date(2025, 1, 1), date(2025, 9, 1))
    band, until = [step(DAYS[3], 10110.0)], date(2025, 8, 1)
    figure = history(points(), band, [], window=window, until=until)
    assert named(figure, "mean of earlier values").x[-1] == until
    assert tuple(figure.layout.xaxis.range) == window


def test_weighted_means_and_the_log_are_drawn_when_given() -> None:
    figure = history(
        points(), [], [], ewma=[(DAYS[0], None), (DAYS[1], 10105.0)],
        events=[{"at": DAYS[2], "words": "seals changed"}],
    )  # fmt: skip
    assert list(named(figure, "weighted mean (EWMA)").y) == [None, 10105.0]
    assert list(named(figure, "in the bench log").text) == ["seals changed"]
    assert "weighted mean (EWMA)" not in {t.name for t in history(points(), [], []).data}


def test_units_stand_in_the_axis_title_and_values_in_the_words() -> None:
    figure = history(points(), [], [])
    assert figure.layout.yaxis.title.text == "Heat capacity (J/K)"
    assert named(figure, "in force").text[0] == "standardization 5, 10\u202f150 J/K"


def test_a_single_day_stands_in_the_middle_of_months() -> None:
    begin, end = history(points()[:1], [], []).layout.xaxis.range
    assert (DAYS[0] - begin).days == (end - DAYS[0]).days == 60
    assert history(points(), [], []).layout.xaxis.range is None


def test_unknown_state_is_refused_with_the_known_ones() -> None:
    strange = [{**points()[0], "state": "odd"}]
    with pytest.raises(ValueError, match=r"odd.*approved"):
        history(strange, [], [])


def test_every_role_has_a_colour() -> None:
    figure = history(points(), [step(DAYS[3], 10110.0)], [{"at": DAYS[2], "words": "head"}])
    roles = {t.meta["role"] for t in figure.data} | {s.name for s in figure.layout.shapes}
    roles |= {role for role, _, _ in MARKS.values()}
    assert roles <= set(re.findall(r"--plot-([\w-]+):", TOKENS.read_text()))
    assert '"color"' not in sent(drawn(points(), [], []))

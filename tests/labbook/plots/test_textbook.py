"""The textbook charts as drawn, on the worked examples of the NIST/SEMATECH e-Handbook."""

from datetime import date, timedelta

import numpy as np
import pytest

from labbook.plots.textbook import CHARTS, Series, cusum, ewma, individuals, moving_range

from .checking import checked

# e-Handbook 6.3.2.2: flow rates of ten batches; mean 50.81, mean moving range 1.8778.
FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]


def series(values: list[float], n: int) -> Series:
    days = [date(2026, 1, 1) + timedelta(days=7 * i) for i in range(len(values))]
    return Series(days, np.array(values), n)


def levels(figure) -> list[float]:
    return [shape.y0 for shape in figure.layout.shapes]


def test_individuals_have_the_limits_of_the_handbook() -> None:
    figure = checked(individuals(series(FLOW, 10), None))
    # 6.3.2.2 prints 45.8159, 50.81 and 55.8041, with the range rounded to 1.8778 before.
    assert levels(figure) == pytest.approx([45.8159, 50.81, 55.8041], abs=2e-4)
    assert list(figure.data[0].y) == FLOW


def test_moving_ranges_have_their_mean_and_upper_limit() -> None:
    figure = checked(moving_range(series(FLOW, 10), None))
    assert levels(figure)[0] == pytest.approx(1.8778, abs=1e-4)
    assert list(figure.data[0].y) == pytest.approx([2, 2.3, 1.4, 3.5, 3.4, 1.4, 0.2, 1.2, 1.5])


def test_ewma_and_cusum_judge_what_follows_the_baseline() -> None:
    for draw, rows in ((ewma, 1), (cusum, 2)):
        figure = checked(draw(series([*FLOW, 53.0, 54.0], 10), None))
        assert [len(row.x) for row in figure.data] == [2] * rows
    first = checked(ewma(series([*FLOW, 53.0], 10), None))
    assert first.data[0].y[0] == pytest.approx(0.3 * 53.0 + 0.7 * 50.81)


def test_limits_are_in_sight_and_every_switch_has_its_charts() -> None:
    low, high = checked(individuals(series(FLOW, 10), None)).layout.yaxis.range
    assert low < 45.8 and high > 55.9
    assert {key: len(charts) for key, charts in CHARTS.items()} == {
        "individuals": 2, "ewma": 1, "cusum": 1,
    }  # fmt: skip

"""Replicates, signs of wear, and the benches side by side."""

from datetime import date
from typing import Any

from labbook.plots import replicates
from labbook.plots.across import across
from labbook.plots.wear import wear

from .checking import checked

DAYS = [date(2025, month, 3) for month in range(1, 5)]
WINDOW = (date(2025, 1, 1), date(2025, 9, 1))


def share(number: int, phase: int, *, left_out: bool = False) -> Any:
    return {
        "at": DAYS[number], "percent": 0.1 * number, "phase": phase, "words": f"value {number}",
        "left_out": left_out,
    }  # fmt: skip


def test_values_are_joined_within_a_phase_and_left_out_ones_stay_in_sight() -> None:
    shares = [share(0, 1), share(1, 1), share(2, 2), share(3, 2, left_out=True)]
    figure = checked(across(shares, [DAYS[2]], WINDOW, (-1.0, 1.0)))
    assert [(list(t.y), t.marker.symbol) for t in figure.data] == [
        ([0.0, 0.1], "circle"), ([0.2], "circle"), ([0.30000000000000004], "square-open"),
    ]  # fmt: skip
    assert figure.data[-1].mode == "markers" and list(figure.data[0].text) == ["value 0", "value 1"]
    assert tuple(figure.layout.yaxis.range) == (-1.0, 1.0)
    assert [shape.x0 for shape in figure.layout.shapes] == [DAYS[2]]


def test_a_sign_of_wear_is_drawn_for_every_run_hollow_where_it_was_set_aside() -> None:
    signs: list[Any] = [
        {"at": day, "value": 1.5 * i, "words": f"run {i}", "left_out": i == 2}
        for i, day in enumerate(DAYS)
    ]
    figure = checked(wear(signs, "mK", WINDOW))
    assert [list(trace.y) for trace in figure.data] == [[0.0, 1.5, 4.5], [3.0]]
    assert [trace.marker.symbol for trace in figure.data] == ["circle", "square-open"]
    assert figure.layout.yaxis.title.text == "mK"
    assert tuple(figure.layout.xaxis.range) == WINDOW
    assert all(trace.meta["walk"] for trace in figure.data)


def test_replicates_stand_below_each_other_with_the_interval_of_their_mean() -> None:
    figure = checked(replicates([("run 1", 10100.0), ("run 2", 10120.0)], 10000.0, 10220.0))
    assert list(figure.data[0].x) == [10100.0, 10120.0]
    assert list(figure.data[0].y) == ["run 1", "run 2"]
    assert [(shape.x0, shape.x1) for shape in figure.layout.shapes] == [
        (10000.0, 10220.0), (10110.0, 10110.0),
    ]  # fmt: skip
    alone = checked(replicates([("run 1", 10100.0)], None, None))
    assert [shape.name for shape in alone.layout.shapes] == ["in-force"]

"""The methods side by side, and the small trace of a bench."""

import re
from xml.etree import ElementTree

import pytest

from labbook.plots.methods import method_rows, places_on_one_scale
from labbook.plots.trace import trace

REDUCTION = {
    "rise": {
        "fraction": {"rise_k": 2.5010, "at_s": 342.0},
        "regnault_pfaundler": {"rise_k": 2.5000},
        "heat_balance": {"rise_k": 2.4990},
        "difference": {"rise_k": None, "why": "The drifts differ from zero."},
    },
    "rise_used": {"method": "regnault_pfaundler", "rise_k": 2.5000},
}


def test_methods_keep_their_order_and_stand_on_one_scale() -> None:
    rows = method_rows(REDUCTION)
    assert [row.words for row in rows][1] == "Regnault–Pfaundler"
    assert [row.place for row in rows] == [94.0, 50.0, 6.0, None]
    assert [row.used for row in rows] == [False, True, False, False]
    assert {row.used_place for row in rows} == {50.0}


def test_distance_from_the_one_used_is_in_millikelvin() -> None:
    assert method_rows(REDUCTION)[0].from_used_mk == pytest.approx(1.0)
    assert method_rows(REDUCTION)[3].from_used_mk is None


def test_a_method_that_could_not_be_computed_says_why() -> None:
    assert method_rows(REDUCTION)[3].why == "The drifts differ from zero."


def test_without_a_rise_to_use_the_rest_is_still_listed() -> None:
    rows = method_rows({**REDUCTION, "rise_used": None})
    assert len(rows) == 4 and not any(row.used for row in rows)


@pytest.mark.parametrize(
    ("values", "places"),
    [([], []), ([None], [None]), ([2.5], [50.0]), ([2.5, 2.5], [50.0, 50.0]), ([1, 2], [6, 94])],
)
def test_places(values: list[float | None], places: list[float | None]) -> None:
    assert places_on_one_scale(values) == places


def test_trace_has_words_and_a_dot_for_each_value() -> None:
    svg = str(trace([10100.0, 10120.0, 10110.4], title="Bench 2 <b>"))
    tree = ElementTree.fromstring(svg)
    assert len(tree.findall("circle")) == 3
    assert tree.findtext("title") == "Bench 2 <b>"
    assert tree.findtext("desc") == (
        "3 values between 10\u202f100 and 10\u202f120 J/K, the newest 10\u202f110 J/K"
    )
    assert "style=" not in svg


def test_higher_values_stand_higher_and_the_newest_last() -> None:
    tree = ElementTree.fromstring(str(trace([1.0, 2.0])))
    first, last = tree.findall("circle")
    assert float(first.get("cy", 0)) > float(last.get("cy", 0))
    assert float(first.get("cx", 0)) < float(last.get("cx", 0))
    assert last.get("class") == "last"


@pytest.mark.parametrize(("values", "dots"), [([], 0), ([10100.0], 1), ([10100.0] * 4, 4)])
def test_few_or_equal_values_still_draw(values: list[float], dots: int) -> None:
    svg = str(trace(values))
    assert len(re.findall("<circle", svg)) == dots
    assert "nan" not in svg

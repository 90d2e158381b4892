"""Typed figures and moments. Expected values follow from the spelling; grouping by thin spaces is
the rule of the SI Brochure (section 5.4.4), where a comma or a point may mark decimals."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labbook.intake import Ambiguous, NotANumber, read_figure, read_moment


@pytest.mark.parametrize(
    ("typed", "value", "decimals"),
    [
        ("1.0000", "1.0000", 4),
        ("1,0000", "1.0000", 4),
        ("23,16", "23.16", 2),
        ("0,123", "0.123", 3),
        ("1234,567", "1234.567", 3),
        ("1,2345", "1.2345", 4),
        ("1.234", "1.234", 3),
        ("-0.5", "-0.5", 1),
        ("−0,5", "-0.5", 1),
        ("+3", "3", 0),
        (".5", "0.5", 1),
        ("5.", "5", 0),
        ("26\u2009434", "26434", 0),
        ("26\u202f434,0", "26434.0", 1),
        ("1\u00a0234,567\u20098", "1234.5678", 4),
        ("0.123\u2009456", "0.123456", 6),
        ("1,234.5", "1234.5", 1),
        ("1.234,5", "1234.5", 1),
        ("1,234,567", "1234567", 0),
        ("  12  ", "12", 0),
    ],
)
def test_figure_is_understood_exactly(typed, value, decimals):
    figure = read_figure(typed)
    assert (figure.value, figure.decimals) == (Decimal(value), decimals)
    assert figure.text == typed.strip()


@pytest.mark.parametrize("typed", ["1,234", "-1,234", "12,345", "123,456", "−9,000"])
def test_one_comma_before_three_digits_is_asked_about(typed):
    with pytest.raises(Ambiguous) as asked:
        read_figure(typed)
    assert len(asked.value.readings) == 2
    for reading in asked.value.readings:
        assert reading in asked.value.sentence
        assert read_figure(reading).value


def test_both_readings_of_an_ambiguous_figure_are_offered():
    with pytest.raises(Ambiguous) as asked:
        read_figure("1,234")
    assert asked.value.readings == ("1.234", "1234")


@pytest.mark.parametrize(
    "typed",
    [
        *("", " ", ".", ",", "-", "abc", "1.2.3", "1,2,3", "1,23,456", "12 34", "1 234"),
        *("nan", "inf", "-Infinity", "1e5", "1E400", "0x1F", "1_000", "٣", "½", "1.5g", "--5"),
        *("1\u200923", "12\u2009345\u20096", "0,123.5", "1" * 25, "9e999999999"),
    ],
)
def test_what_is_no_number_is_refused_with_what_was_expected(typed):
    with pytest.raises(NotANumber) as refused:
        read_figure(typed)
    assert "xpected" in refused.value.sentence or "at most 24" in refused.value.sentence


@given(st.decimals(-(10**9), 10**9, places=4), st.sampled_from(".,"))
def test_a_number_with_four_decimals_comes_back_as_typed(number, mark):
    typed = f"{number:f}".replace(".", mark)
    figure = read_figure(typed)
    assert (figure.value, figure.decimals, figure.text) == (number, 4, typed)


@given(st.text(max_size=30))
def test_any_text_gives_a_figure_a_question_or_a_refusal(typed):
    for read in (read_figure, read_moment):
        try:
            read(typed)
        except (Ambiguous, NotANumber) as said:
            assert said.sentence


@pytest.mark.parametrize(
    ("typed", "seconds"),
    [
        ("5:45", "345"),
        ("5:45.5", "345.5"),
        ("5:45,25", "345.25"),
        ("345", "345"),
        ("345,5", "345.5"),
        ("0:05:45", "345"),
        ("1:00:00", "3600"),
        ("-2:00", "-120"),
        ("−0:30", "-30"),
        ("75:30", "4530"),
        ("-15", "-15"),
    ],
)
def test_moment_is_read_in_seconds(typed, seconds):
    assert read_moment(typed) == Decimal(seconds)


@pytest.mark.parametrize("typed", ["5:60", "5:4", "1:60:00", ":30", "5:", "1:2:3:4", "noon", ""])
def test_what_is_no_moment_is_refused(typed):
    with pytest.raises(NotANumber):
        read_moment(typed)


def test_an_ambiguous_number_of_seconds_is_asked_about():
    with pytest.raises(Ambiguous):
        read_moment("1,200")

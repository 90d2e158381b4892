"""What a logger line is understood as."""

from __future__ import annotations

import re

import pytest

from labbook.logger.lines import Layout

NAMED = re.compile(r"T1=(?P<value>[\d.]+)(?P<unit>K)?")


@pytest.mark.parametrize(
    ("layout", "line", "found"),
    [
        (Layout(), "23.1042\r", ("23.1042", "°C")),
        (Layout(), "  +23.10 °C ", ("+23.10", "°C")),
        (Layout(), "73.58degF", ("73.58", "°F")),
        (Layout(unit="K"), "296.25", ("296.25", "K")),
        (Layout(), "23,1042", ("23,1042", "°C")),
        (Layout(decimal_comma=True), "23,104", ("23.104", "°C")),
        (Layout(column=2), "12:00:01, 23.104, ok", ("23.104", "°C")),
        (Layout(column=3), "12:00:01 ch1 23.104 C", ("23.104", "°C")),
        (Layout(column=2, decimal_comma=True), "1;23,104;0,1", ("23.104", "°C")),
        (Layout(column=2, decimal_comma=True), "1, 23,104", ("23.104", "°C")),
        (Layout(pattern=NAMED), "T1=296.2K", ("296.2", "K")),
        (Layout(pattern=NAMED), "ID 7 T1=23.2", ("23.2", "°C")),
        (Layout(), "open circuit", None),
        (Layout(), "23.1 mV", None),
        (Layout(), "23.1 24.2", None),
        (Layout(), "12:00:01", None),
        (Layout(column=5), "1 2 3", None),
        (Layout(column=2), "1 NaN", None),
    ],
)  # fmt: skip
def test_a_line_gives_value_and_unit_or_nothing(
    layout: Layout, line: str, found: tuple[str, str] | None
) -> None:
    assert layout.read(line) == found

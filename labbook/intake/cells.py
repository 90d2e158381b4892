"""What a single cell of a logger file can be."""

from typing import Literal

from labbook.intake import clock, numerals

Kind = Literal["number", "clock", "date", "instant", "missing", "text", "garbage"]
READABLE: tuple[Kind, ...] = ("number", "clock", "date", "instant")


def kind_of(cell: str) -> Kind:
    """Name the form of one cell; "garbage" begins like a figure but is none.

    >>> kind_of("23,45"), kind_of("5:45"), kind_of("OK"), kind_of("10:00,23.4")
    ('number', 'clock', 'text', 'garbage')
    """
    cell = numerals.plain(cell)
    if numerals.is_missing(cell):
        return "missing"
    if clock.BASIC_INSTANT.fullmatch(cell):
        return "instant"
    if clock.DATE.fullmatch(cell):
        return "date"
    if numerals.is_number(cell):
        return "number"
    if clock.CLOCK.fullmatch(cell):
        return "clock"
    if clock.INSTANT.fullmatch(cell):
        return "instant"
    return "garbage" if cell[0] in "+-.,0123456789" else "text"

"""Whole numbers sent by a page: record numbers, versions, numbers of readings."""

MOST_DIGITS = 15


def read_whole_number(text: str) -> int | None:
    """The number, or None where it is none or has more digits than any record's."""
    plain = text.isascii() and text.isdigit() and len(text) <= MOST_DIGITS
    return int(text) if plain else None

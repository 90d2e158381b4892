"""Figures typed by people: kept as typed, understood exactly, asked about when unclear."""

import re
from dataclasses import dataclass
from decimal import Decimal

LONGEST = 24
_MINUS = str.maketrans("\u2212\u2013\u2012", "---")
# No-break, figure, thin and narrow no-break spaces: they group digits by threes.
_THIN = "\u00a0\u2007\u2009\u202f"
_GROUPED = re.compile(
    rf"[+-]?[1-9]\d{{0,2}}(?:[{_THIN}]\d{{3}})+(?:[.,](?:\d{{3}}[{_THIN}])*\d*)?"
    rf"|[+-]?\d*[.,](?:\d{{3}}[{_THIN}])+\d{{1,3}}",
    re.ASCII,
)
_ONE_MARK = re.compile(r"([+-]?)(\d*)(?:([.,])(\d*))?", re.ASCII)
_MARKS_GROUP = re.compile(
    r"[+-]?[1-9]\d{0,2}(?:(?:,\d{3})+\.\d*|(?:\.\d{3})+,\d*|(?:,\d{3}){2,}|(?:\.\d{3}){2,})",
    re.ASCII,
)
_MOMENT = re.compile(r"([+-]?)(?:(\d{1,3}):)?(\d{1,4}):(\d{2})(?:[.,](\d{0,6}))?", re.ASCII)


class NotANumber(ValueError):
    """What was typed is not a number; `sentence` says what was expected."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


class Ambiguous(ValueError):
    """What was typed can be read in two ways; `readings` are the two, written plainly."""

    def __init__(self, text: str, readings: tuple[str, str]) -> None:
        self.sentence = f"“{text}”: did you mean {readings[0]} or {readings[1]}?"
        self.readings = readings
        super().__init__(self.sentence)


@dataclass(frozen=True)
class Figure:
    """A typed figure: the text as typed, its value, and its digits after the decimal mark."""

    text: str
    value: Decimal
    decimals: int


def read_figure(text: str) -> Figure:
    """Understand one typed number; raise `Ambiguous` or `NotANumber` rather than guess.

    >>> read_figure("1.0000")
    Figure(text='1.0000', value=Decimal('1.0000'), decimals=4)
    >>> read_figure("−0,5").value
    Decimal('-0.5')
    """
    typed = text.strip()
    if len(typed) > LONGEST:
        raise NotANumber(f"“{typed[:LONGEST]}…” is too long; at most {LONGEST} characters.")
    digits = typed.translate(_MINUS)
    if _GROUPED.fullmatch(digits):
        digits = digits.translate(dict.fromkeys(map(ord, _THIN)))
        return _figure(typed, digits.replace(",", "."))
    if _MARKS_GROUP.fullmatch(digits):
        return _figure(typed, _without_groups(digits))
    found = _ONE_MARK.fullmatch(digits)
    if not found or not (found[2] or found[4]):
        raise NotANumber(_expected(typed))
    sign, head, mark, tail = found.groups(default="")
    if mark == "," and len(tail) == 3 and 1 <= len(head) <= 3 and int(head):
        raise Ambiguous(typed, (f"{sign}{head}.{tail}", f"{sign}{head}{tail}"))
    return _figure(typed, digits.replace(",", "."))


def _without_groups(digits: str) -> str:
    """Drop grouping marks: the last mark is decimal unless it has occurred before."""
    last = max(digits, key=lambda mark: digits.rfind(mark) if mark in ".," else -1)
    if digits.count(last) > 1:
        return digits.replace(last, "")
    head, tail = digits.rsplit(last, 1)
    return f"{head.replace(',', '').replace('.', '')}.{tail}"


def _figure(typed: str, plain: str) -> Figure:
    return Figure(typed, Decimal(plain), len(plain.partition(".")[2]))


def _expected(typed: str) -> str:
    if not typed:
        return "Nothing was typed. Expected a number such as 23.169 or 23,169."
    return f"“{typed}” is not a number. Expected digits with one decimal mark, such as 23.1690."


def read_moment(text: str) -> Decimal:
    """A time on the sheet in seconds: 5:45 and 5:45.5 are min:s, 0:05:45 is h:min:s, 345 is s.

    >>> read_moment("-2:00")
    Decimal('-120')
    """
    typed = text.strip()
    if ":" not in typed:
        return read_figure(typed).value
    found = _MOMENT.fullmatch(typed.translate(_MINUS)) if len(typed) <= LONGEST else None
    if not found:
        raise NotANumber(_expected_moment(typed))
    sign, hours, minutes, seconds, fraction = found.groups(default="")
    if int(seconds) > 59 or (hours and int(minutes) > 59):
        raise NotANumber(_expected_moment(typed))
    whole = int(hours or 0) * 3600 + int(minutes) * 60 + int(seconds)
    value = Decimal(f"{whole}.{fraction}" if fraction else whole)
    return -value if sign == "-" else value


def _expected_moment(typed: str) -> str:
    return (
        f"“{typed[:LONGEST]}” is not a time. Expected minutes and seconds such as 5:45, "
        "hours too such as 0:05:45, or seconds such as 345."
    )

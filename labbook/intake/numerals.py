"""Figures in files: what is a number, what marks a missing one, which mark is the decimal one."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

MINUS = str.maketrans("\u2212\u2013", "--")
# Grammar of one number under each decimal mark; the other mark may only group by threes.
_GRAMMAR = r"[+-]?(?:\d{{1,20}}|[1-9]\d{{0,2}}(?:{group}\d{{3}}){{1,5}})(?:{mark}\d{{0,30}})?"
_LEADING = r"|[+-]?{mark}\d{{1,30}}"
_POWER = r"(?:[eE][+-]?\d{1,2})?"


def _number(mark: str, group: str) -> re.Pattern[str]:
    return re.compile(
        f"(?:{_GRAMMAR.format(mark=mark, group=group)}{_LEADING.format(mark=mark)}){_POWER}",
        re.ASCII,
    )


NUMBER = {".": _number(r"\.", ","), ",": _number(",", r"\.")}
MISSING = re.compile(
    r"n/?a|nan|#n/?a|#?null!?|none|nil|-{1,6}|\.{1,3}|\*+|\?+|-9{3,5}(?:[.,]0*)?|", re.I
)
NO_TEXT = re.compile(r"n/?a|nan|#n/?a|#?null!?|none|nil|-{1,6}|\.{1,3}|\*+|\?+|", re.I)
# A comma that can only be a decimal mark: not exactly three digits after it, a head that
# cannot be grouped (0, or more than three digits), or a power of ten.
_SURELY_DECIMAL = re.compile(
    r"^[+-]?(?:\d*,(?:\d{0,2}|\d{4,})|0\d*,\d{3}|\d{4,},\d{3}|\d+,\d+[eE][+-]?\d+)$",
    re.M | re.ASCII,
)
_LONE_COMMA = re.compile(r"^[+-]?[1-9]\d{0,2}(?:,\d{3})+$", re.M | re.ASCII)
_LONE_POINT = re.compile(r"^[+-]?[1-9]\d{0,2}(?:\.\d{3})+$", re.M | re.ASCII)


def plain(cell: str) -> str:
    """The cell with typographic minus signs made ordinary."""
    return cell if cell.isascii() else cell.translate(MINUS).strip()


def is_number(cell: str) -> bool:
    """Whether the cell is a number under either decimal mark."""
    return bool(NUMBER["."].fullmatch(cell) or NUMBER[","].fullmatch(cell))


def is_missing(cell: str) -> bool:
    """Blank, NaN, −999, --- and their kin."""
    return MISSING.fullmatch(cell) is not None


def parse(cell: str, mark: str) -> Decimal | None:
    """The number in a plain cell under a decimal mark, exactly; None if it is not one.

    >>> parse("1.234,50", ",")
    Decimal('1234.50')
    """
    if not NUMBER[mark].fullmatch(cell):
        return None
    if mark == ",":
        return Decimal(cell.replace(".", "").replace(",", "."))
    return Decimal(cell.replace(",", "") if "," in cell else cell)


@dataclass(frozen=True)
class Mark:
    """The decimal mark, or why it cannot be told, or why no mark fits."""

    mark: str | None
    question: str | None = None
    refusal: str | None = None


def decimal_mark(columns: Sequence[Sequence[str]], temperatures: Sequence[int]) -> Mark:
    """Find the one decimal mark of a file from its number columns.

    `temperatures` says which of the columns are known to hold temperatures: there “23,456”
    cannot be a grouped number, since nobody measures 23 456 degrees.
    """
    figures = [_figures(column) for column in columns]
    everything = "\n".join(figures)
    if "," not in everything:
        return Mark(".")
    named = "\n".join(figures[index] for index in temperatures)
    if "." not in everything:
        if _SURELY_DECIMAL.search(everything) or "," in named:
            return Mark(",")
        return Mark(None, question=_comma_question(everything))
    return _between_marks(everything.split("\n"), everything)


def _figures(column: Iterable[str]) -> str:
    return "\n".join(cell for cell in map(plain, column) if cell)


def _comma_question(everything: str) -> str:
    lone = _LONE_COMMA.search(everything)
    seen = lone.group() if lone else everything[:20]
    return f"Is “{seen}” {seen.replace(',', '.')} or {seen.replace(',', '')}?"


def _between_marks(cells: list[str], everything: str) -> Mark:
    """Both marks occur: one must be decimal everywhere and the other group by threes."""
    misfits = {
        mark: [cell for cell in cells if is_number(cell) and not NUMBER[mark].fullmatch(cell)]
        for mark in ".,"
    }
    mark = "." if len(misfits["."]) <= len(misfits[","]) else ","
    if len(misfits[mark]) > len(cells) // 20:
        return Mark(
            None,
            refusal=f"Decimal points and decimal commas are mixed: “{misfits['.'][0]}” and "
            f"“{misfits[','][0]}”. Expected one decimal mark. Export the file again with one.",
        )
    lone = (_LONE_COMMA if mark == "." else _LONE_POINT).search(everything)
    if lone:
        other = "," if mark == "." else "."
        seen = lone.group()
        whole = seen.replace(other, "")
        return Mark(
            None,
            question=f"The file has both points and commas. Is “{seen}” "
            f"{seen.replace(',', '.')} or {whole}?",
        )
    return Mark(mark)

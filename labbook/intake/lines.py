"""Where a line stands in a file's own bytes."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from labbook.intake.decoding import BYTE_ORDER_MARKS, decode
from labbook.intake.table import line_ends

AROUND = 2


@dataclass(frozen=True)
class LineOfFile:
    """A line, counted from 1, with the bytes it takes: `data[offset : offset + size]`."""

    line: int
    offset: int
    size: int
    text: str


def line_in(data: bytes, encoding: str, line: int) -> LineOfFile | None:
    """The line of a file that was read under this encoding; None where it has no such line."""
    around = lines_around(data, encoding, line, 0)
    return around[0] if around else None


def lines_around(
    data: bytes, encoding: str, line: int, around: int = AROUND
) -> tuple[LineOfFile, ...]:
    """A line with those before and after it, as far as the file has them."""
    text = decode(data, encoding).text
    ends = [(0, 0), *line_ends(text), (len(text), len(text))]
    spans = [(before[1], after[0]) for before, after in pairwise(ends)]
    if not 1 <= line <= len(spans):
        return ()
    mark, plain = _mark_of(data, encoding)
    first = max(1, line - around)
    shown = spans[first - 1 : line + around]
    return tuple(
        LineOfFile(
            number,
            mark + len(text[:start].encode(plain)),
            len(text[start:end].encode(plain)),
            text[start:end],
        )
        for number, (start, end) in enumerate(shown, first)
    )


def _mark_of(data: bytes, encoding: str) -> tuple[int, str]:
    """How many bytes the byte-order mark takes, and the encoding of what follows it."""
    for mark, name in BYTE_ORDER_MARKS:
        if data.startswith(mark) and encoding.startswith(name.removesuffix("-sig")):
            return len(mark), _without_mark(name, mark)
    return 0, {"utf-16": "utf-16-le", "utf-32": "utf-32-le"}.get(encoding, encoding)


def _without_mark(name: str, mark: bytes) -> str:
    if name == "utf-8-sig":
        return "utf-8"
    return f"{name}-le" if mark.startswith(b"\xff") else f"{name}-be"

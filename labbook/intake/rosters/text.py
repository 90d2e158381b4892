"""Bytes of a roster to rows of cells: encoding and delimiter found, damage marked where it is."""

from __future__ import annotations

import codecs
import csv
from collections.abc import Iterator
from dataclasses import dataclass

from ..decoding import BYTE_ORDER_MARKS, OTHER_FILES
from .entries import RosterUnreadable

MOST_BYTES = 2 * 1024 * 1024
NOT_READ = "\ufffd"
ZERO_BYTE = "\u2400"  # stands in the text where a zero byte was
DELIMITERS = (",", ";", "\t", "|")
EXPECTED = "A roster is text with one student a line: CSV, or a zip of CSV files."


@dataclass(frozen=True)
class Row:
    """Cells without the blanks around them; ``line`` is where the row begins."""

    line: int
    cells: list[str]


def decode(data: bytes) -> str:
    if len(data) > MOST_BYTES:
        size = len(data) / 1024 / 1024
        raise RosterUnreadable(f"The file has {size:.1f} MB; a roster of at most 2 MB is read.")
    if not data.strip(b" \t\r\n\0,;"):
        raise RosterUnreadable(f"The file is empty. {EXPECTED}")
    for start, words in OTHER_FILES:
        if data.startswith(start):
            raise RosterUnreadable(f"The file is {words}, not text. {EXPECTED}")
    return _text(data).removeprefix("\ufeff").replace("\0", ZERO_BYTE)


def _text(data: bytes) -> str:
    for mark, name in BYTE_ORDER_MARKS:
        if data.startswith(mark):
            return data.decode(name, errors="replace")
    if zeros := _wide_without_mark(data):
        return data.decode(zeros, errors="replace")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("utf-8" if _is_mostly_utf8(data) else "cp1252", errors="replace")


def _wide_without_mark(data: bytes) -> str:
    """Latin letters in UTF-16 have a zero as every second byte."""
    head = data[:4096]
    half = max(len(head) // 2, 1)
    if head[1::2].count(0) > 0.7 * half:
        return "utf-16-le"
    return "utf-16-be" if head[0::2].count(0) > 0.7 * half else ""


def _is_mostly_utf8(data: bytes) -> bool:
    """Whether some line with other than ASCII is UTF-8: then the others are damaged ones."""
    lines = [line for line in data.splitlines() if not line.isascii()]
    return any(_is_utf8(line) for line in lines)


def _is_utf8(line: bytes) -> bool:
    try:
        codecs.decode(line, "utf-8")
    except UnicodeDecodeError:
        return False
    return True


def delimiter_of(text: str) -> str:
    """What parts the cells: the candidate that stands most often in the first line with words."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    return max(DELIMITERS, key=first.count)


def rows_of(text: str, delimiter: str) -> Iterator[Row]:
    """Rows that are not blank. A quotation mark never closed ends in a cell with line breaks."""
    reader = csv.reader(text.splitlines(keepends=True), delimiter=delimiter)
    line = 1
    try:
        for cells in reader:
            cells = [cell.strip(" \t\u00a0") for cell in cells]
            if any(cells):
                yield Row(line, cells)
            line = reader.line_num + 1
    except csv.Error as error:
        sentence = f"Line {line} cannot be read ({error}). Is a quotation mark left open before it?"
        raise RosterUnreadable(sentence) from error

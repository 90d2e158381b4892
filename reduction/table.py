"""A readings file for the command line: two columns, time in s and temperature in °C.

Columns apart by tab, semicolon, comma or spaces; header lines and # comments allowed; a decimal
comma where the separator is a tab or a semicolon. What could be read two ways is refused.
"""

import math
import re
from pathlib import Path

from reduction.errors import ReductionError

MOST_BYTES = 5_000_000
MOST_ROWS = 200_000
NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
BUCKET_C = (5.0, 60.0)
EXPECTED = "expected two columns, time in s and temperature in °C"


class TableError(ReductionError):
    """A readings file that cannot be used, with its name and line in the sentence."""


def read_table(path: Path) -> tuple[list[float], list[float]]:
    """Times [s] and temperatures [°C] of a readings file, in the order of the file.

    Raises TableError naming file, line and what was expected.
    """
    lines = _decode(path, read_bytes(path)).splitlines()
    rows = [(n, line.strip()) for n, line in enumerate(lines, 1)]
    rows = [(n, line) for n, line in rows if line and not line.startswith("#")]
    if len(rows) > MOST_ROWS:
        raise TableError(f"{path.name}: {len(rows)} rows; at most {MOST_ROWS} are read.")
    separator = _separator([line for _, line in rows])
    times: list[float] = []
    temperatures: list[float] = []
    for number, line in rows:
        cells = [cell.strip().strip('"') for cell in line.split(separator)]
        if not times and not any(NUMBER.fullmatch(cell.replace(",", ".")) for cell in cells):
            continue
        time, temperature = _row(cells, separator, f"{path.name}, line {number}")
        times.append(time)
        temperatures.append(temperature)
    if not times:
        raise TableError(f"{path.name}: no readings were found; {EXPECTED}.")
    return times, temperatures


def read_bytes(path: Path) -> bytes:
    """The content of a file of bearable size; raises TableError naming it."""
    try:
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise TableError(f"{path.name}: {size} bytes; at most {MOST_BYTES} are read.")
        return path.read_bytes()
    except OSError as error:
        reason = (error.strerror or "cannot be opened").lower()
        raise TableError(f"{path.name}: {reason}; expected a file that can be read.") from error


def _decode(path: Path, raw: bytes) -> str:
    if b"\0" in raw:
        raise TableError(f"{path.name}: this is not text; {EXPECTED}, saved as UTF-8 text.")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise TableError(f"{path.name}, line {line}: not UTF-8 text; {EXPECTED}.") from error


def _separator(lines: list[str]) -> str | None:
    """The separator that most lines hold: tab, then semicolon, then comma, else spaces (None)."""
    for separator in ("\t", ";", ","):
        if lines and sum(separator in line for line in lines) > len(lines) / 2:
            return separator
    return None


def _row(cells: list[str], separator: str | None, where: str) -> tuple[float, float]:
    if len(cells) > 2 and separator in ("\t", ";", ",") and not cells[-1]:
        cells = cells[:-1]
    if separator == "," and len(cells) in (3, 4):
        raise TableError(
            f"{where}: {','.join(cells)!r} has {len(cells)} columns between commas; {EXPECTED}. "
            "Where the comma is the decimal mark, separate the columns by semicolons."
        )
    if len(cells) != 2:
        raise TableError(f"{where}: {len(cells)} column{'s' * (len(cells) != 1)}; {EXPECTED}.")
    comma = separator in ("\t", ";")
    time = _number(cells[0], comma, None, where, "a time in s")
    return time, _number(cells[1], comma, BUCKET_C, where, "a temperature in °C")


def _number(
    cell: str, decimal_comma: bool, plausible: tuple[float, float] | None, where: str, wanted: str
) -> float:
    """The number in a cell; a comma before three digits counts as the decimal mark only where
    that gives a plausible value, else it could be the mark for thousands and is refused."""
    text = cell.replace(",", ".") if decimal_comma and cell.count(",") == 1 else cell
    if not NUMBER.fullmatch(text) or not math.isfinite(float(text)):
        shown = cell if len(cell) <= 40 else f"{cell[:37]}..."
        raise TableError(f"{where}: {shown!r} is not a number; expected {wanted}.")
    number = float(text)
    told_apart = plausible is not None and plausible[0] <= number <= plausible[1]
    if THOUSANDS.fullmatch(cell) and not told_apart:
        raise TableError(
            f"{where}: {cell!r} could be {text} or {cell.replace(',', '')}; expected {wanted} "
            "with a decimal point, or without the mark for thousands."
        )
    return number

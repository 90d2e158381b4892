"""Text to a table: header, separator, rows of one width, and the lines that are none."""

import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from labbook.intake.cells import READABLE, Kind, kind_of
from labbook.intake.labels import unit_of
from labbook.intake.report import DELIMITERS, LeftOut, Refusal

MAX_ROWS = 200_000
MAX_LINE = 2_000
MAX_COLUMNS = 64
SAMPLE_LINES = 300
HEADER_LINES = 25
_LINE_END = re.compile(r"\r\n|\n|\r")
_COMMENT = re.compile(r"\s*(#+|//+|%+|;+|\*+|!+)\s*")
_HALF_DAY = re.compile(r"(?<=\d)\s+([ap]\.?m\b\.?)", re.I)
DELIMITER_NAMES = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar", " ": "space"}


class Row(NamedTuple):
    """One row of the table; `line` counts from 1 in the file."""

    line: int
    cells: list[str]


@dataclass
class Table:
    """The rows between header and end; `breaks` are rows above which the names stood again.

    A row may lack the trailing cells that are blank in every row: it has `least_cells` or more.
    """

    delimiter: str
    kinds: tuple[Kind, ...]
    names: tuple[str, ...]
    units: tuple[str, ...]
    least_cells: int
    rows: list[Row] = field(default_factory=list)
    breaks: list[int] = field(default_factory=list)
    left_out: list[LeftOut] = field(default_factory=list)
    open_end: bool = False

    @property
    def width(self) -> int:
        """How many columns a row has."""
        return len(self.kinds)

    def column(self, index: int) -> list[str]:
        """All cells of one column, from 0."""
        return [row.cells[index] for row in self.rows]


def lines_of(text: str) -> list[str]:
    """Lines by any of the three line ends; form feeds and the like do not end a line."""
    return _LINE_END.split(text)


def line_ends(text: str) -> list[tuple[int, int]]:
    """Where each line end begins and stops in the text."""
    return [found.span() for found in _LINE_END.finditer(text)]


def first_rows(lines: Sequence[str], count: int = 5) -> tuple[str, ...]:
    """The beginning of the file for showing, long lines shortened."""
    return tuple(line[:200] for line in lines[:count])


def read_table(text: str, delimiter: str | None) -> Table:
    """Find the table in the text, or refuse with the first line that does not fit."""
    lines = lines_of(text)
    _check_size(lines)
    mark, kinds = _layout(lines, delimiter)
    start = _first_row(lines, mark, kinds)
    names, units = _names(lines[:start], mark, kinds)
    width = max(_filled(kinds), *(index + 1 for index, name in enumerate(names) if name), 0)
    table = Table(mark, tuple(kinds[:width]), names[:width], units[:width], _filled(kinds))
    table.open_end = bool(lines[-1].strip())
    for index, line in enumerate(lines[:start]):
        if not is_comment(line, mark) and _fits(split(line, mark), kinds):
            _aside(table, index, "figures above the column names")
    header = {line.strip() for line in lines[:start] if not _fits(split(line, mark), kinds)}
    _fill(table, lines, start, {line for line in header if len(line) > 2})
    if len(table.rows) > MAX_ROWS:
        raise Refusal(f"The file has {len(table.rows):,} rows; at most {MAX_ROWS:,} are taken.")
    return table


def _check_size(lines: list[str]) -> None:
    filled = sum(map(bool, lines))
    if filled > MAX_ROWS + 1_000:
        raise Refusal(
            f"The file has {filled:,} lines; at most {MAX_ROWS:,} readings are taken. "
            "Cut it to the run's own readings, or log less often."
        )
    longest = max(range(len(lines)), key=lambda index: len(lines[index]))
    if len(lines[longest]) > MAX_LINE:
        raise Refusal(
            f"Line {longest + 1} has {len(lines[longest]):,} characters. Expected one reading a "
            "line. Export the readings as text with line ends."
        )


def split(line: str, delimiter: str) -> list[str]:
    """Cells of one line, quotes honoured, blanks around them dropped.

    >>> split('"0,5"; "23,45"', ";")
    ['0,5', '23,45']
    """
    if '"' in line:
        try:
            cells = next(csv.reader([line.strip(" ")], delimiter=delimiter, skipinitialspace=True))
        except (csv.Error, StopIteration):
            cells = line.split(delimiter)
        return [cell.strip() for cell in cells]
    if delimiter == " ":
        # A half of the day stays with its clock.
        return (_HALF_DAY.sub(r"\1", line) if "m" in line or "M" in line else line).split()
    return [cell.strip() for cell in line.split(delimiter)]


def is_comment(line: str, delimiter: str) -> bool:
    """Whether the line begins with a comment mark that is not the separator."""
    found = _COMMENT.match(line)
    return found is not None and not found[1].startswith(delimiter)


def _layout(lines: list[str], chosen: str | None) -> tuple[str, list[Kind]]:
    """The separator under which most lines are rows of figures, and its columns' kinds."""
    sample = [line for line in lines if line.strip()][:SAMPLE_LINES]
    best: tuple[str, list[list[Kind]]] = (chosen or ",", [])
    for delimiter in (chosen,) if chosen else DELIMITERS:
        shapes = [
            shape
            for line in sample
            if not is_comment(line, delimiter) and _row_like(shape := _shape(line, delimiter))
        ]
        if len(shapes) > len(best[1]):
            best = delimiter, shapes
    if not best[1]:
        raise _no_table(lines, chosen)
    kinds = _kinds(best[1])
    if len(kinds) > MAX_COLUMNS:
        raise Refusal(
            f"The rows have {len(kinds)} columns; at most {MAX_COLUMNS} are taken. "
            "Export only the time and the temperatures."
        )
    return best[0], kinds


def _shape(line: str, delimiter: str) -> list[Kind]:
    return [kind_of(cell) for cell in split(line, delimiter)]


def _row_like(shape: list[Kind]) -> bool:
    readable = sum(kind in READABLE for kind in shape)
    return "garbage" not in shape and readable > 0 and readable + shape.count("missing") > 1


def _kinds(shapes: list[list[Kind]]) -> list[Kind]:
    """The kind of each column in rows of the usual width."""
    full = [shape for shape in shapes if sum(kind in READABLE for kind in shape) > 1] or shapes
    width = Counter(map(len, full)).most_common(1)[0][0]
    kinds: list[Kind] = []
    for column in zip(*(shape for shape in full if len(shape) == width), strict=True):
        seen = Counter(kind for kind in column if kind != "missing")
        kinds.append(seen.most_common(1)[0][0] if seen else "missing")
    return kinds


def _filled(kinds: Sequence[Kind]) -> int:
    """How many columns there are without trailing ones that are blank in every row."""
    return max(index for index, kind in enumerate(kinds) if kind != "missing") + 1


def _no_table(lines: list[str], chosen: str | None) -> Refusal:
    shown = first_rows(lines)
    numbers = [line.strip() for line in lines[:SAMPLE_LINES] if kind_of(line.strip()) in READABLE]
    if numbers:
        seen = f"There is only one figure a line (“{numbers[0][:40]}”)."
    elif chosen:
        seen = f"No line holds two figures separated by a {DELIMITER_NAMES.get(chosen, chosen)}."
    else:
        seen = "No table of figures was found."
    return Refusal(
        f"{seen} Expected a time and a temperature in every line. The first lines are below; "
        "choose the separator, or export the readings as text (CSV).",
        shown,
    )


def _fits(cells: list[str], kinds: list[Kind]) -> bool:
    """Whether the cells can be a row: its first figure where the others have theirs, and no
    figure of another kind anywhere."""
    width = len(kinds)
    if len(cells) < _filled(kinds) or any(cells[width:]):
        return False
    shape = [kind_of(cell) for cell in cells[:width]]
    lead = next(index for index, kind in enumerate(kinds) if kind in READABLE)
    others = {
        kind
        for kind, usual in zip(shape, kinds, strict=False)
        if usual not in (kind, "missing", "text")
    }
    return (
        shape[lead] in (kinds[lead], "missing")
        and any(kind in READABLE for kind in shape)
        and others <= {"missing", "text"}
    )


def _first_row(lines: list[str], delimiter: str, kinds: list[Kind]) -> int:
    """Where the readings begin; figures standing above the column names belong to the header."""
    start: int | None = None
    rows, named = 0, False
    for index, line in enumerate(lines):
        if start is not None and (index > HEADER_LINES or rows > 3):
            break
        if not line.strip() or is_comment(line, delimiter):
            continue
        cells = split(line, delimiter)
        if _fits(cells, kinds):
            start, rows = (index if start is None else start), rows + 1
        elif _is_names(cells, _filled(kinds)):
            start, rows = (start, rows) if named else (None, 0)
            named = True
    if start is None:
        raise _no_table(lines, delimiter)
    return start


def _is_names(cells: list[str], width: int) -> bool:
    return len(cells) >= width and all(kind_of(cell) in ("text", "missing") for cell in cells)


def _names(
    header: list[str], delimiter: str, kinds: Sequence[Kind]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Column names and units from the last header lines as wide as the table."""
    blank = ("",) * len(kinds)
    wide = [row for line in header[-5:] if (row := _name_cells(line, delimiter, kinds))]
    if not wide:
        return blank, blank
    if _is_units(wide[-1]):
        return (wide[-2] if len(wide) > 1 else wide[-1]), wide[-1]
    return wide[-1], blank


def _name_cells(line: str, delimiter: str, kinds: Sequence[Kind]) -> tuple[str, ...] | None:
    """The line's cells if they can be names of the table's columns."""
    width = len(kinds)
    texts = [line.strip()]
    if is_comment(line, delimiter):
        texts.insert(0, _COMMENT.sub("", line, count=1).strip())
    for text in texts:
        for names in _ways_to_split(text, delimiter):
            if len(names) < _filled(kinds) or any(names[width:]):
                continue
            names = (names + [""] * width)[:width]
            shape = {kind_of(name) for name in names}
            if "text" in shape and not shape & set(READABLE):
                return tuple(names)
    return None


def _ways_to_split(text: str, delimiter: str) -> list[list[str]]:
    if delimiter != " ":
        return [split(text, delimiter)]
    # Names with blanks in them: "Time (s)   Temp (°C)".
    return [
        text.split(),
        re.split(r"\s{2,}|\t", text),
        re.findall(r"[^\s(\[]+(?:\s*[(\[][^)\]]*[)\]])?", text),
    ]


def _is_units(cells: tuple[str, ...]) -> bool:
    return any(map(unit_of, cells)) and all(not cell or unit_of(cell) for cell in cells)


def _fill(table: Table, lines: list[str], start: int, header: set[str]) -> None:
    """Take every line from `start` as a row, or say why it is none."""
    last = max(index for index, line in enumerate(lines) if line.strip())
    width, delimiter = table.width, table.delimiter
    for index in range(start, last + 1):
        line = lines[index]
        if not line.strip():
            continue
        if line.strip() in header:
            _aside(table, index, "the header stands here again")
            table.breaks.append(len(table.rows))
            continue
        if is_comment(line, delimiter):
            _aside(table, index, f"a comment: “{line.strip()[:40]}”")
            continue
        cells = split(line, delimiter)
        if len(cells) == width:
            table.rows.append(Row(index + 1, cells))
        elif len(cells) >= table.least_cells and not any(cells[width:]):
            table.rows.append(Row(index + 1, cells + [""] * (width - len(cells))))
        else:
            _take_odd(table, lines, index, cells, index == last)


def _aside(table: Table, index: int, why: str) -> None:
    table.left_out.append(LeftOut(index + 1, why))


def _take_odd(table: Table, lines: list[str], index: int, cells: list[str], is_last: bool) -> None:
    """A line of another width: text is set aside, a cut last line too, all else is refused."""
    if not any(kind_of(cell) in (*READABLE, "garbage") for cell in cells):
        _aside(table, index, f"not a reading: “{lines[index].strip()[:40]}”")
        return
    if is_last and len(cells) < table.width:
        _aside(table, index, f"cut short: {_columns(len(cells))} of {table.width}")
        return
    raise Refusal(
        f"Row {index + 1} has {_columns(len(cells))}, the others {table.width}. "
        "The first 5 lines are below; choose the separator, or mend the row.",
        first_rows(lines),
    )


def _columns(count: int) -> str:
    return f"{count} column" if count == 1 else f"{count} columns"

"""The items of a logger file, found in turn from its table: columns, times, unit, order."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from labbook.intake import clock, numerals
from labbook.intake.answers import Answers
from labbook.intake.columns import Columns, choose_temperature, choose_time, label_columns
from labbook.intake.endings import ends_doubtfully
from labbook.intake.labels import names_a_clock
from labbook.intake.marks import choose_mark
from labbook.intake.order import Timed, put_in_order
from labbook.intake.report import LeftOut, Question, Refusal
from labbook.intake.table import Table
from labbook.intake.times import (
    FACTORS,
    ZERO_DAYS,
    choose_day_first,
    choose_kind,
    reader,
    time_cells,
)
from labbook.intake.units import ABSOLUTE_ZERO_C, choose_unit, to_celsius

OF_DAY = ("hh:mm:ss", "hh:mm", "hhmmss")


@dataclass(frozen=True)
class _Row:
    """One row before its times are put in order."""

    line: int
    seconds: Decimal
    value: Decimal
    text: str
    zone: str


class Finding:
    """The items of one file, each found in turn; the first open questions end the search."""

    def __init__(self, table: Table, answers: Answers) -> None:
        self.table = table
        self.answers = answers
        self.columns = Columns(table, label_columns(table))
        self.left_out = list(table.left_out)
        self.names_a_clock = False
        self.found: dict[str, Any] = {
            "columns": self.columns.described(),
            "decimal": None,
            "time": None,
            "unit": None,
            "rows": len(table.rows),
        }

    def understand(self) -> dict[str, Any]:
        """Everything a preview says beyond encoding and separator."""
        mark = choose_mark(self.columns, self.answers)
        if isinstance(mark, Question):
            return self._asking(mark)
        self.found["decimal"] = mark
        self.columns = replace(self.columns, mark=mark)
        times = choose_time(self.columns, self.answers)
        known = times if isinstance(times, tuple) else ()
        temperature = choose_temperature(self.columns, known, self.answers)
        if isinstance(times, Question) or isinstance(temperature, Question):
            return self._asking(times, temperature)
        if temperature in times:
            raise Refusal("The same column was chosen for time and temperature. Choose two.")
        self.found["time_column"] = "+".join(map(self.columns.reference, times))
        self.found["temperature_column"] = self.columns.reference(temperature)
        return self._times(times, temperature)

    def _times(self, times: tuple[int, ...], temperature: int) -> dict[str, Any]:
        kind = choose_kind(self.columns, times, self.answers)
        known = None if isinstance(kind, Question) else kind
        self.found["time"] = known
        self.names_a_clock = any(names_a_clock(self.columns.labels[index].name) for index in times)
        cells = time_cells(self.columns, times, known)
        day_first = choose_day_first(cells, self.answers)
        if isinstance(kind, Question) or isinstance(day_first, Question):
            return self._asking(kind, day_first)
        self.found["day_first"] = day_first
        self._leave_out_cut_row(times, temperature)
        rows = self._rows(cells, kind, day_first, temperature)
        return self._in_unit(rows, kind, temperature)

    def _leave_out_cut_row(self, times: tuple[int, ...], temperature: int) -> None:
        if self.table.open_end and ends_doubtfully(self.table, {*times, temperature}):
            row = self.table.rows.pop()
            why = "the file ends without a line end here: this row may be cut short"
            self.left_out.append(LeftOut(row.line, why))

    def _rows(
        self, cells: list[str], kind: str, day_first: bool | None, temperature: int
    ) -> list[_Row]:
        """Every row that gives a time and a temperature; the others are left out with why."""
        read, mark = reader(kind, self.columns.mark, day_first, cells), self.columns.mark
        rows, unread = [], 0
        for (line, row_cells), cell in zip(self.table.rows, cells, strict=False):
            text = row_cells[temperature]
            time = read(cell)
            value = numerals.parse(numerals.plain(text), mark)
            if time is not None and value is not None and not numerals.is_missing(text):
                rows.append(_Row(line, time[0], value, text, time[1]))
                continue
            why = _why_time(cell, kind) if time is None else _why_temperature(text)
            unread += "is not" in why
            self.left_out.append(LeftOut(line, why))
        if unread > max(2, len(self.table.rows) // 5):
            self._refuse_unread()
        if len(rows) < 2:
            raise Refusal(
                f"The file gives {len(rows)} readings; at least 2 are needed. "
                f"{_first_reason(self.left_out)}"
            )
        if len({bool(row.zone) for row in rows}) > 1:
            raise Refusal("Some times state a zone and others none. Export them all alike.")
        return rows

    def _refuse_unread(self) -> None:
        raise Refusal(
            f"Many rows cannot be read. {_first_reason(self.left_out)} "
            "Choose the separator, the decimal mark, or the time's form, or export again."
        )

    def _in_unit(self, rows: list[_Row], kind: str, temperature: int) -> dict[str, Any]:
        label = self.columns.labels[temperature]
        where = self.columns.describe(temperature)
        values = [row.value for row in rows]
        unit = choose_unit(values, label, where, self.answers)
        if isinstance(unit, Question):
            self.found["rows"] = len(rows)
            return self._asking(unit)
        self.found["unit"] = unit
        readings = []
        for row in rows:
            celsius = to_celsius(row.value, unit)
            if celsius < ABSOLUTE_ZERO_C:
                why = f"“{row.text}” is below absolute zero: taken as missing"
                self.left_out.append(LeftOut(row.line, why))
            else:
                readings.append(Timed(row.line, row.seconds, celsius, row.text))
        return self._in_order(readings, kind, rows[0].zone)

    def _in_order(self, readings: list[Timed], kind: str, zone: str) -> dict[str, Any]:
        dated = kind == "date and time"
        ordered = put_in_order(
            readings,
            self._break_lines(),
            of_day=kind in OF_DAY,
            clocks=kind in OF_DAY or (dated and not zone),
            parts=self.answers.chosen.parts,
        )
        self.left_out += ordered.left_out
        if ordered.question:
            self.found["rows"] = len(ordered.readings)
            return self._asking(ordered.question)
        if ordered.remark:
            self.answers.remarks.append(ordered.remark)
        start = ordered.readings[0].seconds
        return self.found | {
            "rows": len(ordered.readings),
            "left_out": self._all_left_out(),
            "readings": tuple(
                (float(r.seconds - start), float(r.celsius)) for r in ordered.readings
            ),
            "readings_text": tuple(r.text for r in ordered.readings),
            "lines": tuple(r.line for r in ordered.readings),
            **_beginning(start, kind, zone, self.names_a_clock),
        }

    def _break_lines(self) -> list[int]:
        return [self.table.rows[index].line - 1 for index in self._breaks()]

    def _breaks(self) -> Iterator[int]:
        return (index for index in set(self.table.breaks) if index < len(self.table.rows))

    def _asking(self, *asked: object) -> dict[str, Any]:
        """The preview so far, with the questions that are open."""
        questions = tuple(item for item in asked if isinstance(item, Question))
        return self.found | {"questions": questions, "left_out": self._all_left_out()}

    def _all_left_out(self) -> tuple[LeftOut, ...]:
        return tuple(sorted(self.left_out, key=lambda item: item.line))


def _why_time(cell: str, kind: str) -> str:
    if not cell or numerals.NO_TEXT.fullmatch(cell):
        return "no time"
    return f"“{cell[:40]}” is not a time ({kind})"


def _why_temperature(text: str) -> str:
    if not text:
        return "no temperature"
    if numerals.is_missing(numerals.plain(text)):
        return f"no temperature: “{text}”"
    return f"“{text[:40]}” is not a temperature"


def _first_reason(left_out: Sequence[LeftOut]) -> str:
    if not left_out:
        return "Expected one reading a line."
    first = next((item for item in left_out if "is not" in item.why), left_out[0])
    return f"Line {first.line}: {first.why}."


def _beginning(start: Decimal, kind: str, zone: str, is_clock: bool) -> dict[str, Any]:
    """Where the time axis begins, as elapsed seconds or as a clock time."""
    if kind == "date and time":
        return {"first_clock": clock.iso_clock(start, zone)}
    if kind in ZERO_DAYS:
        mark = "Z" if kind.startswith("epoch") else ""
        return {"first_clock": clock.iso_clock(start + ZERO_DAYS[kind] * clock.DAY, mark)}
    if kind in FACTORS or kind == "mm:ss" or (start < 3600 and not is_clock):
        return {"first_time_s": float(start)}
    return {"first_clock": clock.iso_time(start)}

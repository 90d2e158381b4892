"""Which column is the time and which the temperature."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from labbook.intake import clock, numerals
from labbook.intake.answers import Answers
from labbook.intake.labels import Label, read_label
from labbook.intake.report import Column, Option, Question, Refusal
from labbook.intake.table import Table

TRIAL_ROWS = 2_000
LATE_EVENING = 230_000


@dataclass(frozen=True)
class Columns:
    """A table with its columns' labels; `mark` is the decimal mark their numbers have."""

    table: Table
    labels: tuple[Label, ...]
    mark: str = "."

    def described(self) -> tuple[Column, ...]:
        """The columns for showing."""
        rows = self.table.rows[:3]
        return tuple(
            Column(index + 1, label.name, label.unit, tuple(row.cells[index] for row in rows))
            for index, label in enumerate(self.labels)
        )

    def reference(self, index: int) -> str:
        """How a choice names a column: its name if that is its own, else its number."""
        name = self.labels[index].name
        own = [label.name.casefold() for label in self.labels].count(name.casefold()) == 1
        return name if name and own and "+" not in name else str(index + 1)

    def find(self, reference: str) -> int:
        """The column a choice names."""
        for index, label in enumerate(self.labels):
            if reference.casefold() in (label.name.casefold(), self.reference(index).casefold()):
                return index
        if len(reference) < 6 and reference.isdecimal() and 1 <= int(reference) <= self.table.width:
            return int(reference) - 1
        names = ", ".join(f"“{self.reference(i)}”" for i in range(self.table.width))
        raise Refusal(f"There is no column “{reference}”. The file's columns are {names}.")

    def called(self, index: int) -> str:
        """A column in words."""
        name = self.labels[index].name
        return f"column {index + 1} “{name}”" if name else f"column {index + 1}"

    def describe(self, index: int) -> str:
        """A column in words, with what its first cells show."""
        samples = ", ".join(row.cells[index] for row in self.table.rows[:3])
        return f"{self.called(index)} ({samples} …)"

    def numbers(self, index: int) -> list[Decimal]:
        """The column's first numbers."""
        cells = (numerals.plain(row.cells[index]) for row in self.table.rows[:TRIAL_ROWS])
        values = (
            numerals.parse(cell, self.mark) for cell in cells if not numerals.is_missing(cell)
        )
        return [value for value in values if value is not None]


def label_columns(table: Table) -> tuple[Label, ...]:
    """Understand every column name."""
    return tuple(map(read_label, table.names, table.units))


def choose_time(columns: Columns, answers: Answers) -> tuple[int, ...] | Question:
    """The time column, or a date and a time column, or the question which it is."""
    chosen = answers.chosen.time_column or answers.recall("time_column")
    if chosen:
        return _chosen_time(columns, chosen)
    candidates = _stated_times(columns) or _rising_columns(columns)
    if len(candidates) == 1:
        return candidates[0]
    if not candidates:
        usable = [i for i, kind in enumerate(columns.table.kinds) if kind == "number"]
        candidates = [(index,) for index in usable]
    options = tuple(
        Option(
            "+".join(columns.reference(i) for i in candidate),
            " and ".join(columns.describe(i) for i in candidate),
        )
        for candidate in candidates
    )
    return Question("time_column", "Which column holds the time?", options)


def _chosen_time(columns: Columns, chosen: str) -> tuple[int, ...]:
    """One column, or two as "1+2"; a name may itself hold a plus sign."""
    try:
        return (columns.find(chosen),)
    except Refusal:
        if chosen.count("+") != 1:
            raise
        first, second = chosen.split("+")
        return columns.find(first.strip()), columns.find(second.strip())


def _stated_times(columns: Columns) -> list[tuple[int, ...]]:
    """Columns that are times by their form or by their name."""
    kinds, labels = columns.table.kinds, columns.labels
    dates = [index for index, kind in enumerate(kinds) if kind == "date"]
    clocks = [index for index, kind in enumerate(kinds) if kind == "clock"]
    numbers = [
        index
        for index, kind in enumerate(kinds)
        if kind == "number" and labels[index].quantity == "time"
    ]
    compact = [index for index in numbers if dates and is_compact(columns, index)]
    found: list[tuple[int, ...]] = [(i,) for i, kind in enumerate(kinds) if kind == "instant"]
    for index in clocks + compact:
        nearest = sorted((abs(date - index), date) for date in dates)[:1]
        found.append((*(date for _, date in nearest), index))
    return found + [(index,) for index in numbers if index not in compact]


def is_compact(columns: Columns, index: int) -> bool:
    """Whether a number column may be hhmmss, as 101500 for a quarter past ten.

    Smaller figures are, too, where zeros fill them up to six, or where midnight came between.
    """
    values = columns.numbers(index)
    if not values or any(
        value != value.to_integral_value() or clock.compact_clock(str(value)) is None
        for value in values
    ):
        return False
    cells = (row.cells[index].strip() for row in columns.table.rows[:TRIAL_ROWS])
    filled_up = all(len(cell) == 6 for cell in cells if cell)
    return filled_up or min(values) >= 10_000 or max(values) >= LATE_EVENING


def _rising_columns(columns: Columns) -> list[tuple[int, ...]]:
    """Unnamed number columns that may be the time since they run one way.

    One is taken without asking only if the others cannot be: the sole one to run one way, or
    the first of two whose second looks like a temperature.
    """
    usable = [
        index
        for index, kind in enumerate(columns.table.kinds)
        if kind == "number" and columns.labels[index].quantity == ""
    ]
    rising = [index for index in usable if _runs_one_way(columns.numbers(index))]
    timely = [index for index in rising if not _like_temperature(columns.numbers(index))]
    if len(usable) == 2 and timely == usable[:1]:
        return [(usable[0],)]
    if len(rising) == 1 and len(usable) > 1 and not timely:
        return []
    return [(index,) for index in rising]


def _runs_one_way(values: Sequence[Decimal]) -> bool:
    steps = [after - before for before, after in pairwise(values)]
    up, down = sum(step > 0 for step in steps), sum(step < 0 for step in steps)
    return bool(steps) and max(up, down) >= 0.8 * len(steps)


def _like_temperature(values: Sequence[Decimal]) -> bool:
    """Within a room's reach in °C, °F or K, and no wider than a run can be."""
    low, high = min(values), max(values)
    in_reach = (low >= 5 and high <= 140) or (low >= 278 and high <= 333)
    return in_reach and high - low <= 25


def choose_temperature(
    columns: Columns, times: tuple[int, ...], answers: Answers
) -> int | Question:
    """The temperature column, or the question which of several it is."""
    chosen = answers.chosen.temperature_column or answers.recall("temperature_column")
    if chosen:
        return columns.find(chosen)
    kinds, labels = columns.table.kinds, columns.labels
    free = [i for i, kind in enumerate(kinds) if kind == "number" and i not in times]
    named = [i for i in free if _is_temperature(labels[i])]
    candidates = named or [i for i in free if labels[i].quantity == ""]
    blank = [i for i, kind in enumerate(kinds) if kind == "missing" and _is_temperature(labels[i])]
    if len(candidates) == 1 and not blank:
        return candidates[0]
    if not candidates:
        raise _no_temperature(columns, free)
    options = tuple(Option(columns.reference(i), columns.describe(i)) for i in candidates)
    seen = f"{len(candidates)} columns may be the water's temperature."
    if blank:
        seen = f"There are no values in {columns.called(blank[0])}."
    return Question("temperature_column", f"{seen} Which column is to be read?", options)


def _is_temperature(label: Label) -> bool:
    return label.quantity == "temperature"


def _no_temperature(columns: Columns, free: list[int]) -> Refusal:
    seen = ", ".join(columns.describe(index) for index in free)
    if not free:
        return Refusal(
            "No column of temperatures was found beside the time. Expected numbers in °C, °F "
            "or K. Check the separator and the decimal mark."
        )
    return Refusal(
        f"No temperature was found: {seen}. Expected °C, °F or K. Set the logger to record "
        "temperatures, or choose the column and its unit."
    )

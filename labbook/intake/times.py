"""What form the times of a file have, and how to read them."""

import re
from collections.abc import Callable, Sequence
from decimal import Decimal
from itertools import pairwise
from statistics import median

from labbook.intake import clock, numerals
from labbook.intake.answers import Answers
from labbook.intake.columns import TRIAL_ROWS, Columns, is_compact
from labbook.intake.report import Option, Question

FACTORS = {
    "s": Decimal(1),
    "ms": Decimal("0.001"),
    "min": Decimal(60),
    "h": Decimal(3600),
    "days": Decimal(clock.DAY),
    "epoch s": Decimal(1),
    "epoch ms": Decimal("0.001"),
    "serial days": Decimal(clock.DAY),
}
# What a stated unit says of a clock with two parts.
TWO_PARTS = {"mm:ss": "mm:ss", "min": "mm:ss", "hh:mm": "hh:mm", "h": "hh:mm"}
# Day zero of counted times, in days since day 0 of the calendar.
ZERO_DAYS = {
    "epoch s": clock.UNIX_DAY_ZERO,
    "epoch ms": clock.UNIX_DAY_ZERO,
    "serial days": clock.SERIAL_DAY_ZERO,
}
# Readings of a run come every 1 to 60 s, at the very slowest every few minutes, and for longer
# than two minutes (common practice, no source).
LONGEST_INTERVAL_S = 60
LONGEST_INTERVAL_MIN = 10
SHORTEST_RUN_S = 120
_SLASHED = re.compile(r"(\d{1,2})([-/])(\d{1,2})\2(\d{4}|\d{2})(?!\d)", re.ASCII)

Reading = tuple[Decimal, str]
Reader = Callable[[str], Reading | None]


def time_cells(columns: Columns, times: tuple[int, ...], kind: str | None) -> list[str]:
    """The time of every row as one cell: a date and a time in two columns are put together."""
    rows = columns.table.rows
    if len(times) == 1:
        index = times[0]
        return [numerals.plain(row.cells[index]) for row in rows]
    date, time = times
    if kind == "hhmmss" or columns.table.kinds[time] == "number":
        return [f"{row.cells[date]} {_spelled(row.cells[time])}" for row in rows]
    return [f"{row.cells[date]} {row.cells[time]}" for row in rows]


def _spelled(cell: str) -> str:
    seconds = clock.compact_clock(cell)
    return cell if seconds is None else clock.iso_time(seconds)


def choose_kind(columns: Columns, times: tuple[int, ...], answers: Answers) -> str | Question:
    """The form of the times, or the question which it is."""
    if answers.chosen.time_kind:
        return answers.chosen.time_kind
    if len(times) == 2:
        return "date and time"
    index = times[0]
    form = columns.table.kinds[index]
    if form == "instant":
        return "date and time"
    found = _clock_kind(columns, index) if form == "clock" else _number_kind(columns, index)
    if isinstance(found, Question):
        return answers.recall("time_kind") or found
    if form == "number" and answers.memory.time_kind not in (None, found):
        # The bench's earlier files were otherwise: only a person can tell what changed.
        return _unit_question(columns, index)
    return found


def _clock_kind(columns: Columns, index: int) -> str | Question:
    """Three parts are hours, minutes and seconds; two parts need more evidence."""
    cells = [cell for cell in map(numerals.plain, columns.table.column(index)) if ":" in cell]
    two = [cell for cell in cells if cell.count(":") == 1]
    if not two:
        return "hh:mm:ss"
    stated = columns.labels[index].unit
    if any("." in cell or "," in cell or int(cell.strip("+-")[:-3]) > 23 for cell in _bare(two)):
        return "mm:ss"
    if len(two) == len(cells):
        if stated in TWO_PARTS:
            return TWO_PARTS[stated]
        if any(cell[-1] in "mM." for cell in two):
            return "hh:mm"
        if _usual_step(two) >= 5:
            # As hours and minutes these would be five minutes and more apart.
            return "mm:ss"
    options = (
        Option("mm:ss", f"minutes and seconds: “{two[0]}” is {_spoken(two[0], 'min', 's')}"),
        Option("hh:mm:ss", f"hours and minutes: “{two[0]}” is {_spoken(two[0], 'h', 'min')}"),
    )
    return Question("time_kind", f"Times such as “{two[0]}”: which are they?", options)


def _bare(cells: list[str]) -> list[str]:
    """Two-part clocks whose last part has two digits or a fraction."""
    return [cell for cell in cells if re.fullmatch(r"[+-]?\d+:\d\d(?:[.,]\d+)?", cell)]


def _usual_step(cells: list[str]) -> float:
    values = [clock.clock_seconds(cell, "mm:ss") or Decimal(0) for cell in cells]
    return _step(values)


def _step(values: Sequence[Decimal]) -> float:
    """The usual interval between neighbours, 0 if there is none."""
    steps = [abs(after - before) for before, after in pairwise(values)]
    return float(median(steps)) if steps else 0.0


def _least_step(values: Sequence[Decimal]) -> Decimal:
    return min((abs(after - before) for before, after in pairwise(values)), default=Decimal(0))


def _spoken(cell: str, larger: str, smaller: str) -> str:
    head, _, tail = cell.partition(":")
    return f"{head} {larger} {tail} {smaller}"


def _number_kind(columns: Columns, index: int) -> str | Question:
    """The unit of counted times: as stated, or plain from their size, else asked."""
    values, label = columns.numbers(index), columns.labels[index]
    stated = label.unit if label.quantity == "time" else ""
    if not values:
        return stated if stated in FACTORS else _unit_question(columns, index)
    low, high, step = min(values), max(values), _step(values)
    if stated in ("", "s") and clock.EPOCH_S[0] <= low and high <= clock.EPOCH_S[1]:
        return "epoch s"
    if stated in ("", "ms") and clock.EPOCH_S[0] * 1000 <= low and high <= clock.EPOCH_S[1] * 1000:
        return "epoch ms"
    days = clock.SERIAL_DAYS
    if stated in ("", "days") and days[0] <= low and high <= days[1] and 0 < step < 0.01:
        return "serial days"
    if stated in FACTORS:
        return stated
    if is_compact(columns, index):
        return _compact_question(columns, index)
    counts_up = label.quantity != "time" and step == 1 and values[0] in (0, 1)
    as_minutes = _least_step(values) < LONGEST_INTERVAL_MIN and high - low < SHORTEST_RUN_S
    if counts_up or as_minutes or step > LONGEST_INTERVAL_S or stated:
        return _unit_question(columns, index)
    return "s"


def _unit_question(columns: Columns, index: int) -> Question:
    step = _step(columns.numbers(index))
    options = tuple(
        Option(name, f"{words}: a reading every {step * float(FACTORS[name]):g} s")
        for name, words in (
            ("s", "seconds"),
            ("ms", "milliseconds"),
            ("min", "minutes"),
            ("h", "hours"),
            ("days", "days"),
        )
    )
    return Question(
        "time_kind",
        f"The times in {columns.describe(index)} state no unit. Which is it? If they only "
        "count the readings, export the file again with a time.",
        options,
    )


def _compact_question(columns: Columns, index: int) -> Question:
    seen = columns.table.rows[0].cells[index]
    spelled = clock.compact_clock(seen)
    words = clock.iso_time(spelled) if spelled is not None else "a clock time"
    return Question(
        "time_kind",
        f"Is “{seen}” a clock time without colons, or a number of seconds?",
        (Option("hhmmss", f"clock time {words}"), Option("s", f"{seen} seconds")),
    )


def choose_day_first(cells: Sequence[str], answers: Answers) -> bool | Question | None:
    """Whether the day stands before the month; None where the dates leave no doubt."""
    found = {match.groups() for cell in set(cells) if (match := _SLASHED.match(cell))}
    if not found:
        return None
    if answers.chosen.day_first is not None:
        return answers.chosen.day_first
    first = max(int(groups[0]) for groups in found)
    second = max(int(groups[2]) for groups in found)
    short = any(len(groups[3]) == 2 for groups in found)
    if second > 12 >= first:
        return False
    if first > 12 >= second and not short:
        return True
    remembered = answers.recall("day_first")
    if remembered is not None:
        return remembered == "True"
    return _date_question(min(found), short and first > 12)


def _date_question(groups: tuple[str, ...], year_may_lead: bool) -> Question:
    first, mark, second, year = groups
    seen = f"{first}{mark}{second}{mark}{year}"
    hint = " If the year stands first, export with four-digit years." if year_may_lead else ""
    return Question(
        "day_first",
        f"Does the day or the month stand first in “{seen}”?{hint}",
        (
            Option("yes", f"day first: day {int(first)}, month {int(second)}"),
            Option("no", f"month first: month {int(first)}, day {int(second)}"),
        ),
    )


def reader(kind: str, mark: str, day_first: bool | None, cells: Sequence[str]) -> Reader:
    """The function that reads one time cell to exact seconds and its zone, or None."""
    if kind == "date and time":
        return lambda cell: clock.read_instant(cell, day_first)
    if kind == "serial days":
        quantum = _day_quantum(cells, mark)
        return lambda cell: _plain(_counted(cell, kind, mark), quantum)
    if kind in FACTORS:
        return lambda cell: _plain(_counted(cell, kind, mark))
    if kind == "hhmmss":
        return lambda cell: _plain(clock.compact_clock(cell))
    two_parts = "mm:ss" if kind == "mm:ss" else "hh:mm"
    return lambda cell: _plain(clock.clock_seconds(cell, two_parts))


def _plain(seconds: Decimal | None, quantum: Decimal | None = None) -> Reading | None:
    if seconds is None:
        return None
    return (seconds.quantize(quantum) if quantum else seconds), ""


def _counted(cell: str, kind: str, mark: str) -> Decimal | None:
    value = numerals.parse(cell, mark)
    return None if value is None else value * FACTORS[kind]


def _day_quantum(cells: Sequence[str], mark: str) -> Decimal:
    """The seconds that decimals of a day can tell: five decimals a second, eight a millisecond.
    What stands beyond is the rounding of a fraction that does not end."""
    decimals = max(len(cell.partition(mark)[2]) for cell in cells[:TRIAL_ROWS])
    return Decimal(10) ** -min(max(decimals - 5, 0), 3)

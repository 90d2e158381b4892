"""The order of the readings in time: doubled and unsorted rows, clock jumps, restarts."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import pairwise
from statistics import median

from labbook.intake.clock import DAY
from labbook.intake.report import LeftOut, Option, Question, Refusal

HOUR = Decimal(3600)
HALF_DAY = DAY // 2
# Rows this far from their place are late lines; farther ones are another story.
NEAR_ROWS = 5
MOST_PARTS = 12


@dataclass(frozen=True)
class Timed:
    """One reading: its line in the file, seconds, temperature in °C and as in the file."""

    line: int
    seconds: Decimal
    celsius: Decimal
    text: str


@dataclass(frozen=True)
class Ordered:
    """Readings in order of time, or the question how their parts belong together."""

    readings: list[Timed]
    left_out: tuple[LeftOut, ...] = ()
    remark: str = ""
    question: Question | None = None


def put_in_order(
    readings: list[Timed],
    break_lines: Sequence[int],
    *,
    of_day: bool,
    clocks: bool,
    parts: str | None,
) -> Ordered:
    """Bring the readings into order, or ask when their times tell more than one story.

    `break_lines` are lines where the header stood again, `of_day` says the times are times of
    day (they run over midnight), `clocks` that they come from a clock that people may set.
    """
    if of_day:
        readings = _over_midnight(readings)
    readings, doubled = _without_doubles(readings)
    pieces = _pieces(readings, break_lines, clocks)
    if parts:
        chosen = _as_chosen(readings, pieces, parts)
        return replace(chosen, left_out=doubled + chosen.left_out)
    if len(pieces) == 1:
        return Ordered(readings, doubled)
    if not break_lines and _only_unsorted(readings, pieces):
        return Ordered(_sorted(readings), doubled, "The rows were not in order of time; sorted.")
    return Ordered(readings, doubled, question=_question(readings, pieces))


def _sorted(readings: list[Timed]) -> list[Timed]:
    return sorted(readings, key=lambda reading: reading.seconds)


def _over_midnight(readings: list[Timed]) -> list[Timed]:
    """Add a day where a clock without a date goes back by nearly one."""
    days = 0
    carried = []
    for index, reading in enumerate(readings):
        before = readings[index - 1].seconds if index else reading.seconds
        if before - reading.seconds > HALF_DAY and reading.seconds + DAY - before <= HOUR:
            days += 1
        carried.append(replace(reading, seconds=reading.seconds + days * DAY))
    return carried if days else readings


def _without_doubles(readings: list[Timed]) -> tuple[list[Timed], tuple[LeftOut, ...]]:
    """Leave out rows that repeat the row before them.

    Where the same time also stands with different temperatures the clock is only coarse, and
    every row is kept.
    """
    same_time = [(a, b) for a, b in pairwise(readings) if a.seconds == b.seconds]
    if any(a.text != b.text for a, b in same_time):
        return readings, ()
    doubles = {b.line: a.line for a, b in same_time}
    kept = [reading for reading in readings if reading.line not in doubles]
    why = tuple(LeftOut(line, f"repeats line {first}") for line, first in doubles.items())
    return kept, why


def _pieces(readings: list[Timed], break_lines: Sequence[int], clocks: bool) -> list[list[Timed]]:
    """Cut where the time goes back, where the header stands again, where a clock may have been
    put forward by an hour, and where half a day and more is missing."""
    usual = _usual_step(readings)
    breaks = sorted(break_lines)
    pieces: list[list[Timed]] = []
    for index, reading in enumerate(readings):
        before = readings[index - 1] if index else None
        step = reading.seconds - before.seconds if before else Decimal(-1)
        again = False
        while breaks and breaks[0] < reading.line:
            breaks.pop(0)
            again = True
        hour_ahead = clocks and abs(step - HOUR - usual) <= usual
        if step < 0 or again or hour_ahead or step > HALF_DAY:
            pieces.append([])
        pieces[-1].append(reading)
    return pieces


def _usual_step(readings: Sequence[Timed]) -> Decimal:
    """The middle interval between neighbouring readings whose time goes on."""
    steps = [b.seconds - a.seconds for a, b in pairwise(readings) if b.seconds > a.seconds]
    return median(steps) if steps else Decimal(0)


def _only_unsorted(readings: list[Timed], pieces: list[list[Timed]]) -> bool:
    """Whether sorting tells one even story: newest first throughout, or no time twice, no gaps,
    and either most rows out of order or none far from its place. A clock set back or a restart
    does not look like this."""
    back = sum(b[0].seconds < a[-1].seconds for a, b in pairwise(pieces))
    if back < len(pieces) - 1 or len(readings) < 3:
        return False
    if back == len(readings) - 1:
        return True
    in_order = sorted(range(len(readings)), key=lambda index: readings[index].seconds)
    times = [readings[index].seconds for index in in_order]
    gaps = [after - before for before, after in pairwise(times)]
    usual = median(gaps)
    even = all(3 * gap <= 5 * usual and 3 * usual <= 5 * gap and gap > 0 for gap in gaps)
    far = max(abs(place - index) for place, index in enumerate(in_order))
    return even and (4 * back >= len(readings) or far <= NEAR_ROWS)


def _question(readings: list[Timed], pieces: list[list[Timed]]) -> Question:
    options = [Option("join", "one run: let the parts follow each other")]
    if _goes_forward(readings):
        options = [
            Option("keep", "one run: the times are right as they stand"),
            Option("join", "one run: the clock was put forward; close the gap"),
        ]
    elif len({(r.seconds, r.text) for r in readings}) == len({r.seconds for r in readings}):
        options.append(Option("sort", "one run: rows out of order; sort them by time"))
    options += [
        Option(str(number), f"only part {number}: lines {piece[0].line}–{piece[-1].line}")
        for number, piece in enumerate(pieces[:MOST_PARTS], 1)
    ]
    return Question("parts", _what_happened(pieces), tuple(options))


def _goes_forward(readings: Sequence[Timed]) -> bool:
    return all(b.seconds >= a.seconds for a, b in pairwise(readings))


def _what_happened(pieces: list[list[Timed]]) -> str:
    first, second = pieces[:2]
    step = second[0].seconds - first[-1].seconds
    line = second[0].line
    if len(pieces) > MOST_PARTS:
        return f"The time goes back or starts again {len(pieces) - 1} times, first at line {line}."
    if step >= 0:
        return (
            f"A new part begins at line {line}, {_short(step)} s after the last reading. "
            "Is it the same run?"
        )
    if abs(second[0].seconds - first[0].seconds) <= _usual_step(first):
        return f"The logger restarted at line {line}; join the parts?"
    return f"The clock goes back {_short(-step)} s at line {line}. Read as continuing?"


def _short(seconds: Decimal) -> str:
    return format(seconds.normalize(), "f")


def _as_chosen(readings: list[Timed], pieces: list[list[Timed]], parts: str) -> Ordered:
    if parts == "sort":
        return Ordered(*_without_doubles(_sorted(readings)), "The rows were sorted, as chosen.")
    if parts == "join":
        return Ordered(_joined(pieces), remark="The parts were joined, as chosen.")
    if parts == "keep":
        if not _goes_forward(readings):
            raise Refusal("The times go back, so they cannot stand as they are. Choose “join”.")
        return Ordered(readings)
    if not parts.isdecimal() or not 1 <= int(parts) <= len(pieces):
        raise Refusal(
            f"“{parts}” was chosen for the parts. Expected join, keep, sort, or a part's "
            f"number from 1 to {len(pieces)}."
        )
    number = int(parts)
    others = [r for index, piece in enumerate(pieces, 1) if index != number for r in piece]
    why = tuple(LeftOut(reading.line, "belongs to another part") for reading in others)
    return Ordered(pieces[number - 1], why, f"Only part {number} of {len(pieces)} was taken.")


def _joined(pieces: list[list[Timed]]) -> list[Timed]:
    """Let every part follow the one before: an hour's change is undone exactly, any other
    break is closed to one usual interval."""
    usual = _usual_step([reading for piece in pieces for reading in piece])
    joined = list(pieces[0])
    for piece in pieces[1:]:
        step = piece[0].seconds - joined[-1].seconds
        shift = usual - step
        for hour in (HOUR, -HOUR):
            if abs(step + hour - usual) <= usual:
                shift = hour
        joined += [replace(reading, seconds=reading.seconds + shift) for reading in piece]
    return joined

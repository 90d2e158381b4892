"""A run's readings, put together from their blocks."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..models import LoggerFile, Run
from ..models.readings import unpack


@dataclass(frozen=True)
class Readings:
    """All readings of a run in the order they came; ``struck`` marks those left out."""

    numbers: NDArray[np.int64]
    times_s: NDArray[np.float64]
    temperatures_c: NDArray[np.float64]
    struck: NDArray[np.bool_]
    strikes: list[Any] = field(default_factory=list)

    def __len__(self) -> int:
        return len(self.numbers)

    @property
    def kept_count(self) -> int:
        return int((~self.struck).sum())

    def as_they_came(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Times and temperatures of the readings that count, in the order they were taken in."""
        return self.times_s[~self.struck], self.temperatures_c[~self.struck]

    def kept(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Times and temperatures of the readings that count, in order of time."""
        times, temperatures = self.as_they_came()
        order = np.argsort(times, kind="stable")
        return times[order], temperatures[order]


def readings_of(run: Run) -> Readings:
    blocks = list(run.blocks.defer("details"))
    strikes = list(run.strikes.select_related("by", "entered_by"))
    numbers = _joined([block.numbers for block in blocks], np.int64)
    struck = np.zeros(len(numbers), dtype=bool)
    for strike in strikes:
        struck |= (numbers >= strike.first_number) & (numbers <= strike.last_number)
    return Readings(
        numbers,
        _joined([unpack(block.times_s) for block in blocks], np.float64),
        _joined([unpack(block.temperatures_c) for block in blocks], np.float64),
        struck,
        strikes,
    )


def _joined(pieces: list[Any], dtype: type) -> NDArray[Any]:
    return np.concatenate(pieces) if pieces else np.empty(0, dtype=dtype)


@dataclass(frozen=True)
class WrittenReading:
    number: int
    time: str
    temperature: str
    source: str
    strike: Any | None


def as_written(run: Run, newest_first: bool = False) -> list[WrittenReading]:
    """Every reading as typed or as it stood in the file, with its strike if it has one."""
    strikes = list(run.strikes.select_related("by", "entered_by"))

    def strike_of(number: int) -> Any | None:
        hits = (s for s in strikes if s.first_number <= number <= s.last_number)
        return next(hits, None)

    rows = [
        WrittenReading(
            number,
            detail["time"],
            detail["temperature"],
            block.get_source_display(),
            strike_of(number),
        )
        for block in run.blocks.all()
        for number, detail in enumerate(block.read_details(), start=block.first_number)
    ]
    return rows[::-1] if newest_first else rows


def next_number(run: Run) -> int:
    newest = run.blocks.order_by("-first_number").values_list("first_number", "count").first()
    return 1 if newest is None else newest[0] + newest[1]


@dataclass(frozen=True)
class HandedIn:
    """A file handed in for a run, and what became of it: used, replaced or not used."""

    file: LoggerFile
    state: str


def files_of(run: Run, readings: Readings) -> list[HandedIn]:
    taken = {block.file_id: block for block in run.blocks.filter(file__isnull=False)}
    counting = readings.numbers[~readings.struck]

    def state_of(file: LoggerFile) -> str:
        block = taken.get(file.pk)
        if block is None:
            return "not used"
        return "used" if np.isin(block.numbers, counting).any() else "replaced"

    return [HandedIn(file, state_of(file)) for file in run.files.defer("content")]

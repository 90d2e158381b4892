"""The firings that one logger file holds, and which runs took which of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from reduction.errors import ReductionError
from reduction.firings import Stretch, find_firings
from reduction.notes import Thresholds
from reduction.thermogram import Thermogram

from ..intake import Preview
from ..models import LoggerFile, Method, ReadingBlock, Run

WHOLE = "all"


@dataclass(frozen=True)
class FileReadings:
    """Readings of a file on the file's own clock, with the temperatures as they stand in it.

    ``lines`` are the lines they stand in, from 1.
    """

    times_s: tuple[float, ...]
    temperatures_c: tuple[float, ...]
    texts: tuple[str, ...]
    lines: tuple[int, ...]

    def within(self, stretch: Stretch) -> FileReadings:
        inside = [stretch.from_s <= time <= stretch.until_s for time in self.times_s]
        columns = (self.times_s, self.temperatures_c, self.texts, self.lines)
        return FileReadings(
            *(tuple(np.array(column, dtype=object)[inside].tolist()) for column in columns)
        )


def readings_in(preview: Preview) -> FileReadings:
    start = preview.first_time_s or 0.0
    return FileReadings(
        tuple(start + time for time, _ in preview.readings),
        tuple(temperature for _, temperature in preview.readings),
        preview.readings_text,
        preview.lines,
    )


def firings_in(readings: FileReadings, method: Method) -> tuple[Stretch, ...]:
    """The firings of a file that holds more than one; none where there is nothing to choose."""
    limits = Thresholds.from_dict(method.thresholds)
    try:
        thermogram = Thermogram.of(readings.times_s, readings.temperatures_c)
    except ReductionError:
        return ()
    return find_firings(thermogram, limits)


@dataclass(frozen=True)
class FileUse:
    """A run that took readings of a file: one of its firings, or the whole."""

    run: Run
    stretch: Stretch | None

    def shares(self, stretch: Stretch | None) -> bool:
        """Whether the run holds readings of this stretch of the file, None being all of it."""
        if stretch is None or self.stretch is None:
            return True
        return stretch.from_s < self.stretch.until_s and self.stretch.from_s < stretch.until_s


def uses_elsewhere(file: LoggerFile) -> list[FileUse]:
    """Every other run that took readings from a file with the same bytes."""
    blocks = (
        ReadingBlock.objects.filter(file__sha256=file.sha256)
        .exclude(run=file.run_id)
        .select_related("run__group", "run__bench")
        .defer("times_s", "temperatures_c", "details")
    )
    return [FileUse(block.run, _stretch_of(block.read_as)) for block in blocks]


def _stretch_of(read_as: dict[str, Any] | None) -> Stretch | None:
    kept = (read_as or {}).get("firing")
    return Stretch(**kept) if kept else None

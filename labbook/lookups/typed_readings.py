"""What stands of a run's readings while more are being typed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from django.utils import timezone

from ..models import Account, Person, ReadingBlock, Run
from .readings import Readings, readings_of

SAME_TIME_S = 1e-6


@dataclass(frozen=True)
class Standing:
    """A reading that counts, as it was written, and who wrote it when."""

    number: int
    time: str
    temperature: str
    temperature_c: float
    at: datetime
    by: str

    @property
    def at_clock(self) -> str:
        return f"{timezone.localtime(self.at):%H:%M:%S}"


def reading_sent_before(run: Run, page_key: str) -> ReadingBlock | None:
    """The reading a page sent under this key, also after it was folded with its neighbours."""
    if not page_key:
        return None
    return ReadingBlock._base_manager.filter(run=run, page_key=page_key).first()


def standing_at(run: Run, readings: Readings, time_s: float) -> Standing | None:
    """The newest reading that counts at this time."""
    same = ~readings.struck & (np.abs(readings.times_s - time_s) < SAME_TIME_S)
    found = np.flatnonzero(same)
    if not found.size:
        return None
    number = int(readings.numbers[found[-1]])
    block = run.blocks.filter(first_number__lte=number).select_related("by").last()
    assert block is not None
    detail = block.read_details()[number - block.first_number]
    return Standing(
        number=number,
        time=detail["time"],
        temperature=detail["temperature"],
        temperature_c=float(readings.temperatures_c[found[-1]]),
        at=datetime.fromisoformat(detail["at"]) if "at" in detail else block.at,
        by=_writer(detail, block.by),
    )


def _writer(detail: dict[str, Any], sent_by: Account) -> str:
    person = Person.objects.filter(pk=detail.get("person") or 0).first()
    return str(person or sent_by)


def standing_since(run: Run, number: int) -> list[dict[str, Any]]:
    """The readings after this number that count: number, time and text of each, for the page."""
    readings = readings_of(run)
    new = ~readings.struck & (readings.numbers > number)
    times = dict(zip(readings.numbers[new].tolist(), readings.times_s[new].tolist(), strict=True))
    blocks = [block for block in run.blocks.all() if block.numbers[-1] > number]
    return [
        {"number": n, "time_s": times[n], "temperature": detail["temperature"]}
        for block in blocks
        for n, detail in enumerate(block.read_details(), start=block.first_number)
        if n in times
    ]

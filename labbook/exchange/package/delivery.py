"""A hand-in on its way to a reader: its record, the names behind it, what the reader may see."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from reduction.errors import ReductionError
from reduction.inputs import RunInputs
from reduction.working import PARTS, Step, working

from ...lookups.handing_in import Names, names_in, runs_showing_ours
from ...lookups.snapshots import Record, unpacked
from ...models import Account, HandIn


@dataclass(frozen=True)
class Delivery:
    """``record`` holds no computed values of runs that are not ``shown`` to this reader."""

    hand_in: HandIn
    record: Record
    names: Names
    shown: frozenset[int]

    @property
    def is_whole(self) -> bool:
        return all(run["number"] in self.shown for run in self.record["runs"])

    @cached_property
    def runs(self) -> list[DeliveredRun]:
        return [DeliveredRun(run) for run in self.record["runs"]]


def delivery_of(hand_in: HandIn, account: Account | None) -> Delivery:
    """For an account, which may have to wait for computed values; None stands for staff."""
    record = unpacked(hand_in.record)
    shown = runs_showing_ours(record, account)
    for run in record["runs"]:
        if run["number"] not in shown and run["result"]:
            run["result"] |= {"outputs": {}, "withheld": True}
    return Delivery(hand_in, record, names_in(record), shown)


@dataclass(frozen=True)
class DeliveredRun:
    record: Record

    @property
    def number(self) -> int:
        number: int = self.record["number"]
        return number

    @property
    def title(self) -> str:
        return f"{self.record['title']} (run {self.number})"

    @property
    def outputs(self) -> dict[str, Any]:
        result = self.record["result"]
        return result["outputs"] if result else {}

    @property
    def is_withheld(self) -> bool:
        return bool(self.record["result"] and self.record["result"].get("withheld"))

    @property
    def failure(self) -> str:
        return self.record["result"]["failure"] if self.record["result"] else ""

    def text(self, field: str) -> str:
        """What stands on the sheet: the newest entry of a field."""
        entries = [e["text"] for e in self.record["evidence"]["entries"] if e["field"] == field]
        return entries[-1] if entries else ""

    def in_order_of_time(self) -> tuple[Any, Any]:
        """Times [s] and temperatures [°C] of the readings that count."""
        readings = self.record["inputs"]["readings"]
        times, temperatures = (np.array(readings[k]) for k in ("time_s", "temperature_c"))
        order = np.argsort(times, kind="stable")
        return times[order], temperatures[order]

    @cached_property
    def steps(self) -> dict[str, tuple[Step, ...]]:
        """The working of the result, by the headings of its parts; empty where there is none."""
        if not self.outputs:
            return {}
        try:
            found = working(RunInputs.from_dict(self.record["inputs"]), self.outputs)
        except ReductionError:  # kept by an earlier version, under names no longer read
            return {}
        parts = {title: tuple(s for s in found if s.part == key) for key, title in PARTS.items()}
        return {title: steps for title, steps in parts.items() if steps}

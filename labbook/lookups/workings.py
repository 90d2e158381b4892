"""The working of a run: its result written out from what was kept with it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from reduction.errors import ReductionError
from reduction.working import PARTS, Step, working

from ..models import Account, Run
from .inputs import inputs_of
from .outputs import outputs_of, run_file
from .readings import readings_of
from .sheets import Sheet


@dataclass(frozen=True)
class Working:
    """The steps in their parts, what was left out, and the sentence where there is no result."""

    parts: dict[str, tuple[Step, ...]] = field(default_factory=dict)
    outputs: dict[str, Any] = field(default_factory=dict)
    failure: str = ""
    is_kept: bool = False
    withheld: str = ""

    @property
    def left_out(self) -> list[dict[str, Any]]:
        """The corrections that are not applied, each with its size."""
        return [row for row in self.outputs.get("corrections", []) if not row["applied"]]


def working_of(run: Run, account: Account) -> Working:
    """The working of the newest result, or of a first look while readings come in.

    A kept result names its readings by count and digest; they are put back in from their blocks.
    """
    sheet, readings = Sheet(run), readings_of(run)
    outputs = outputs_of(run, sheet, readings, account)
    if not outputs.values:
        return Working(failure=outputs.failure, is_kept=outputs.is_kept, withheld=outputs.withheld)
    now = inputs_of(run, sheet, readings)
    kept = run.result.inputs if outputs.is_kept and run.result is not None else now
    try:
        inputs = run_file({**kept, "readings": now["readings"]})
    except ReductionError as error:  # kept by an earlier version, under names no longer read
        return Working(failure=str(error), is_kept=outputs.is_kept)
    steps = working(inputs, outputs.values)
    parts = {key: tuple(step for step in steps if step.part == key) for key in PARTS}
    filled = {PARTS[key]: found for key, found in parts.items() if found}
    return Working(filled, outputs.values, outputs.failure, outputs.is_kept)

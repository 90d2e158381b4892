"""What a run's readings mean: the kept result, or a first look before the firing is marked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import reduction
from reduction.reduce_run import RunInputs, reduce_run

from ..models import Run
from .inputs import inputs_of
from .readings import Readings
from .sheets import Sheet

FEWEST_READINGS = 4


@dataclass(frozen=True)
class Outputs:
    values: dict[str, Any]
    failure: str = ""
    is_kept: bool = False


def compute(inputs: dict[str, Any]) -> tuple[dict[str, Any], str]:
    """The outputs, or nothing and the sentence that says why not."""
    try:
        return reduce_run(RunInputs.from_dict(inputs)).as_dict(), ""
    except reduction.ReductionError as error:
        return {}, str(error)


def outputs_of(run: Run, sheet: Sheet, readings: Readings) -> Outputs:
    """The newest kept result; while readings are still coming in, a look that is not kept."""
    if run.result is not None and run.result.inputs["readings"]["count"] == readings.kept_count:
        return Outputs(run.result.outputs, run.result.failure, is_kept=True)
    if readings.kept_count < FEWEST_READINGS:
        return Outputs({})
    return Outputs(*compute(inputs_of(run, sheet, readings)))

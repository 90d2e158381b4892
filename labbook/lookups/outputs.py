"""What a run's readings mean: the kept result, or a first look before the firing is marked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import reduction
from reduction.monte_carlo import Sampled, sample_run
from reduction.notes import Thresholds
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
        thresholds = Thresholds.from_dict(inputs.get("thresholds", {}))
        return reduce_run(run_file(inputs), thresholds).as_dict(), ""
    except reduction.ReductionError as error:
        return {}, str(error)


def run_file(inputs: dict[str, Any]) -> RunInputs:
    """The inputs without the thresholds, which decide on notes and are no part of a run file."""
    return RunInputs.from_dict({k: v for k, v in inputs.items() if k != "thresholds"})


TRIALS, TRIALS_OF_FIT = 4000, 300


def sampled_of(run: Run, sheet: Sheet, readings: Readings) -> tuple[dict[str, Sampled], str]:
    """The results by Monte Carlo, a check on the budget; or nothing and the sentence why."""
    trials = TRIALS_OF_FIT if run.method.rise_method == "heat_balance" else TRIALS
    try:
        return sample_run(run_file(inputs_of(run, sheet, readings)), trials), ""
    except reduction.ReductionError as error:
        return {}, str(error)


def outputs_of(run: Run, sheet: Sheet, readings: Readings) -> Outputs:
    """The newest kept result; while readings are still coming in, a look that is not kept."""
    if run.result is not None and run.result.inputs["readings"]["count"] == readings.kept_count:
        return Outputs(run.result.outputs, run.result.failure, is_kept=True)
    if readings.kept_count < FEWEST_READINGS:
        return Outputs({})
    return Outputs(*compute(inputs_of(run, sheet, readings)))

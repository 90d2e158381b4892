"""What a run's readings mean: the kept result, or a first look before the firing is marked.

Nothing of it leaves here for a page but for an account, which may have to wait for it
(``unlocking``).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import reduction
from reduction.monte_carlo import Sampled, sample_run
from reduction.notes import Thresholds
from reduction.reduce_run import RunInputs, reduce_run

from ..models import Account, Run
from .inputs import inputs_of
from .readings import Readings
from .sheets import Sheet
from .unlocking import is_unlocked, withheld_words, without_values

FEWEST_READINGS = 4


BOUNDS = ("fore_from_s", "fired_at_s", "settled_at_s", "after_until_s")


@dataclass(frozen=True)
class Outputs:
    """``withheld`` says why there are no values for this account; the curve is drawn with the
    bounds that were typed, and the notes are said without values."""

    values: dict[str, Any]
    failure: str = ""
    is_kept: bool = False
    withheld: str = ""
    notes: list[dict[str, Any]] = field(default_factory=list)
    bounds: dict[str, float | None] = field(default_factory=dict)

    @property
    def drawn(self) -> dict[str, Any]:
        """What the thermogram is drawn with beside the readings."""
        return self.values or {"periods": self.bounds}


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


def sampled_of(
    run: Run, sheet: Sheet, readings: Readings, account: Account
) -> tuple[dict[str, Sampled], str]:
    """The results by Monte Carlo, a check on the budget; or nothing and the sentence why."""
    if not is_unlocked(account, run):
        return {}, withheld_words(run)
    trials = TRIALS_OF_FIT if run.method.rise_method == "heat_balance" else TRIALS
    try:
        return sample_run(run_file(inputs_of(run, sheet, readings)), trials), ""
    except reduction.ReductionError as error:
        return {}, str(error)


def outputs_of(run: Run, sheet: Sheet, readings: Readings, account: Account) -> Outputs:
    """The newest kept result; while readings are still coming in, a look that is not kept."""
    return _for(account, run, sheet, _found(run, sheet, readings))


def kept_outputs(run: Run, account: Account) -> Outputs:
    """The newest kept result alone, whatever was read since."""
    return _for(account, run, None, _kept(run))


def failure_of(run: Run, sheet: Sheet, readings: Readings) -> str:
    """The sentence that says why there is no result; it holds no values."""
    return _found(run, sheet, readings).failure


def _found(run: Run, sheet: Sheet, readings: Readings) -> Outputs:
    if run.result is not None and run.result.inputs["readings"]["count"] == readings.kept_count:
        return _kept(run)
    if readings.kept_count < FEWEST_READINGS:
        return Outputs({})
    values, failure = compute(inputs_of(run, sheet, readings))
    return Outputs(values, failure, notes=values.get("notes", []))


def _kept(run: Run) -> Outputs:
    if run.result is None:
        return Outputs({})
    values = run.result.outputs
    return Outputs(values, run.result.failure, is_kept=True, notes=values.get("notes", []))


def _for(account: Account, run: Run, sheet: Sheet | None, found: Outputs) -> Outputs:
    if is_unlocked(account, run):
        return found
    return Outputs(
        {},
        found.failure,
        found.is_kept,
        withheld=withheld_words(run),
        notes=without_values(found.notes),
        bounds={} if sheet is None else _typed_bounds(sheet),
    )


def _typed_bounds(sheet: Sheet) -> dict[str, float | None]:
    typed = ((key, sheet.number(key)) for key in BOUNDS)
    return {key: None if value is None else float(value) for key, value in typed}

"""Reducing a run when it is saved. Each computation is a new row in Result."""

from __future__ import annotations

import hashlib
import json
from typing import Any

import reduction
from reduction.drift import Scatter, pooled

from .. import clock
from ..lookups.inputs import inputs_of
from ..lookups.outputs import FEWEST_READINGS, compute
from ..lookups.readings import Readings, readings_of
from ..lookups.sheets import Sheet
from ..models import Account, Result, Run


def reduce_if_readings_stand(run: Run, *, by: Account, reason: str) -> Result | None:
    """Reduce once there is something to reduce: the firing marked and a few readings.

    A run that has a result is reduced whatever is left of its readings: the result must follow
    them, if only with the sentence that says there are too few.
    """
    if run.fired_at is None:
        return None
    readings = readings_of(run)
    if run.result is None and not _shows_a_rise(run, readings):
        return None
    return reduce_and_keep(run, readings, by=by, reason=reason)


def _shows_a_rise(run: Run, readings: Readings) -> bool:
    """Whether there are readings on both sides of the firing, as far as it is known."""
    times, _ = readings.kept()
    fired = Sheet(run).number("fired_at_s")
    return len(times) >= FEWEST_READINGS and (fired is None or times[-1] > float(fired))


def reduce_and_keep(run: Run, readings: Readings, *, by: Account, reason: str) -> Result:
    """Compute the run's result and keep it, unless the same was computed before.

    A known numerical failure is kept as a sentence in the result: readings are never lost by it.
    """
    inputs = inputs_of(run, Sheet(run), readings)
    if run.result is not None and is_of(run.result, inputs):
        return run.result
    return keep_result(run, inputs, compute(inputs), by=by, reason=reason)


def is_of(result: Result, inputs: dict[str, Any]) -> bool:
    """Whether a result was computed from these inputs by this version of the reduction."""
    return result.inputs_sha256 == _digest(_without_readings(inputs))


def keep_result(
    run: Run,
    inputs: dict[str, Any],
    outcome: tuple[dict[str, Any], str],
    *,
    by: Account,
    reason: str,
) -> Result:
    """Append what was computed from these inputs as the run's newest result."""
    kept_inputs, (outputs, failure) = _without_readings(inputs), outcome
    result = Result.objects.create(
        run=run,
        at=clock.now(),
        by=by,
        reason=reason[:200],
        version=reduction.__version__,
        inputs=kept_inputs,
        inputs_sha256=_digest(kept_inputs),
        outputs=outputs,
        failure=failure[:500],
        **headline(outputs),
    )
    run.result = result
    run.save(update_fields=["result"])
    return result


def _without_readings(inputs: dict[str, Any]) -> dict[str, Any]:
    """The inputs with the readings, which are stored already, named by count and digest."""
    text = json.dumps(inputs["readings"], separators=(",", ":"))
    named = {
        "count": len(inputs["readings"]["time_s"]),
        "sha256": hashlib.sha256(text.encode()).hexdigest(),
    }
    return {**inputs, "readings": named}


def _digest(inputs: dict[str, Any]) -> str:
    text = json.dumps([reduction.__version__, inputs], sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def headline(outputs: dict[str, Any]) -> dict[str, float | None]:
    """The figures lists and histories show, out of all the outputs."""
    capacity = outputs.get("heat_capacity") or {}
    combustion = outputs.get("combustion") or {}
    lines = [(outputs.get("drift") or {}).get(period) or {} for period in ("fore", "after")]
    fore_drift, after_drift = (line.get("slope_k_per_s") for line in lines)
    return {
        "rise_k": (outputs.get("rise_used") or {}).get("rise_k"),
        "c_j_per_k": capacity.get("at_nominal_water_j_per_k"),
        "du_j_per_g": combustion.get("du_j_per_g"),
        "dch_kj_per_mol": combustion.get("dch_kj_per_mol"),
        "fore_drift_k_per_s": fore_drift,
        "after_drift_k_per_s": after_drift,
        "time_to_95_s": outputs.get("time_to_95_percent_s"),
        "noise_k": pooled_noise_k(lines),
    }


def pooled_noise_k(lines: list[dict[str, Any]]) -> float | None:
    """The residuals about both drift lines together, in K; None with no line of three readings."""
    residuals = [
        Scatter(line["residual_sd_k"], line["n"] - 2)
        for line in lines
        if line.get("residual_sd_k") is not None
    ]
    noise = pooled(residuals)
    return noise.sd if noise.degrees else None

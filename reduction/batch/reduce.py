"""Many runs reduced at once: drifts, noise, and the rise by every method with two lines."""

from collections.abc import Iterable
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reduction.batch.prepared import Prepared, prepare
from reduction.batch.rated import rate_runs
from reduction.batch.runs import Runs
from reduction.line_rises import LINE_METHODS, line_rises
from reduction.notes import Thresholds
from reduction.rise_uncertainty import reading_noise
from reduction.thermogram import Line, Thermogram

Array = NDArray[np.float64]

BLOCK = 250_000
"""Readings prepared together: enough runs to share each call, few enough to reuse their memory."""
GLANCE = 64
"""Readings of a run whose steps bound its resolution from above."""


@dataclass(frozen=True, eq=False)
class Reduced:
    """What the closed forms give for many runs, arrays of shape (runs,), NaN for no answer.

    Bounds [s] on each run's clock; drift [K/s] of both lines with its standard uncertainty;
    residual_sd_k [K] of both lines; noise_k [K], the standard deviation of one reading, and
    lag_one, the correlation of its neighbours; rises [K], moments [s on the run's clock],
    standard uncertainties [K] and degrees of freedom, shape (methods, runs) in the order of
    LINE_METHODS. `refused` tells by number of the run why nothing could be computed.
    """

    fired_at_s: Array
    settled_at_s: Array
    drift_k_per_s: Array
    u_drift_k_per_s: Array
    residual_sd_k: Array
    noise_k: Array
    lag_one: Array
    rise_k: Array
    at_s: Array
    u_k: Array
    dof: Array
    refused: dict[int, str]

    def __len__(self) -> int:
        return self.fired_at_s.size

    def rise(self, method: str) -> Array:
        """The rises [K] by one method, shape (runs,)."""
        return np.asarray(self.rise_k[LINE_METHODS.index(method)])

    @classmethod
    def join(cls, parts: Iterable["Reduced"]) -> "Reduced":
        """The results of parts that follow each other."""
        some = list(parts)
        starts = np.cumsum([0, *(len(part) for part in some)]).tolist()
        arrays: dict[str, Any] = {
            field.name: np.concatenate([getattr(part, field.name) for part in some], axis=-1)
            for field in fields(cls)
            if field.name != "refused"
        }
        refused = {
            start + run: sentence
            for start, part in zip(starts, some, strict=False)
            for run, sentence in part.refused.items()
        }
        return cls(**arrays, refused=refused)


def reduce_runs(runs: Runs, thresholds: Thresholds | None = None) -> Reduced:
    """Reduce runs held in memory; each gives the numbers `reduce_run` gives for it.

    Bounds left open are found as for a single run, one run at a time. Never raises for readings
    that cannot be reduced: see `Reduced.refused`.
    """
    limits = thresholds or Thresholds()
    return Reduced.join(_reduce_block(prepare(part, limits)) for part in runs.parts(BLOCK))


def _reduce_block(ready: Prepared) -> Reduced:
    rated = rate_runs(ready)
    lines = rated.fore, rated.after
    with np.errstate(invalid="ignore", divide="ignore"):
        noise = reading_noise(*lines, _resolution(ready, *lines))
        rises = line_rises(rated, noise)
        u_drift = np.array(
            [noise.sd_k * np.sqrt(noise.inflation / line.spread_s2) for line in lines]
        )
    return Reduced(
        fired_at_s=ready.runs.fired_at_s,
        settled_at_s=ready.runs.settled_at_s,
        drift_k_per_s=np.array([line.slope for line in lines]),
        u_drift_k_per_s=u_drift,
        residual_sd_k=np.array([line.residual_sd_k for line in lines]),
        noise_k=noise.sd_k,
        lag_one=noise.lag_one,
        rise_k=rises.rise_k,
        at_s=rises.at_s + ready.runs.fired_at_s,
        u_k=rises.u_k,
        dof=rises.dof,
        refused=ready.refused,
    )


def _resolution(ready: Prepared, fore: Line, after: Line) -> Array:
    """The smallest step [K] between two different readings of each run, where it can matter.

    Where a step among a few readings is already below the scatter about the lines, so is the
    smallest of all, and rounding is lost in it to the last digit: that step serves instead.
    """
    runs = ready.runs
    first, last = runs.offsets[:-1, None], np.maximum(runs.offsets[1:, None] - 1, 0)
    few = runs.temperature_c[np.minimum(first + np.arange(GLANCE), last)]
    steps = np.diff(np.sort(np.round(few, 7), axis=1), axis=1)
    least: Array = np.min(np.where(steps > 0.0, steps, np.inf), axis=1)
    lost = np.ones(len(runs), dtype=bool)
    for line in (fore, after):
        lost &= (least < line.residual_sd_k) & (2.0 * least < line.range_k)
    for i in np.flatnonzero(~lost):
        own = slice(runs.offsets[i], runs.offsets[i + 1])
        least[i] = Thermogram(runs.time_s[own], runs.temperature_c[own]).resolution_k
    return least

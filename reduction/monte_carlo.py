"""Monte Carlo propagation (JCGM 101:2008): the independent check of the uncertainty budgets.

Nothing is linearized: every trial draws the readings and all inputs anew and runs them through the
reduction itself, with the periods of the run held where they are.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reduction import rise as methods
from reduction.budget_inputs import InputQuantity, State, input_quantities, results
from reduction.curve import CurveResult, Values, reduce_curve
from reduction.errors import ReductionError
from reduction.heat_balance import NoFitError, fit_heat_balance
from reduction.inputs import RunInputs
from reduction.periods import find_periods
from reduction.rise_uncertainty import Noise
from reduction.thermogram import Periods, Rated, Thermogram, rate

Array = NDArray[np.float64]

TOGETHER = 65_536
"""Readings drawn at a time, to keep the work near the processor."""
RISES = {
    "fraction": lambda rated: methods.fraction(rated).rise_k,
    "fraction_060": lambda rated: methods.fraction(rated, methods.PHI_FUEL).rise_k,
    "fraction_by_hand": lambda rated: methods.fraction_by_hand(rated).rise_k,
    "equal_areas": lambda rated: methods.equal_areas(rated).rise_k,
    "regnault_pfaundler": methods.regnault_pfaundler,
    "difference": methods.difference,
}


@dataclass(frozen=True)
class Sampled:
    """Mean, standard uncertainty, shortest 95 % interval, and the trials that gave a result.

    `u_error` is the standard error of u itself, from the number of trials.
    """

    mean: float
    u: float
    lower: float
    upper: float
    trials: int
    u_error: float


def sample_run(inputs: RunInputs, trials: int = 2000, seed: int = 0) -> dict[str, Sampled]:
    """Propagate by simulation: the rise used and every result of the run, by name.

    The same seed gives the same figures. The heat-balance fit takes some 10 ms a trial, the other
    methods under 1 ms. Raises ReductionError where the run has no rise with an uncertainty.
    """
    random = np.random.default_rng(seed)
    thermogram = Thermogram.of(inputs.readings.time_s, inputs.readings.temperature_c)
    periods = find_periods(
        thermogram,
        inputs.fired_at_s,
        inputs.settled_at_s,
        inputs.fore_from_s,
        inputs.after_until_s,
    )
    curve = reduce_curve(thermogram, periods)
    rise = curve.rise[inputs.method.rise]
    if curve.rated is None or curve.noise is None or rise["u_k"] is None:
        raise ReductionError(
            "There is no rise with an uncertainty to start from; expected a fore and an after "
            "period with readings to spare."
        )
    rises = sample_rises(thermogram, periods, curve, inputs.method.rise, trials, random)
    final_c = float(curve.rated.after.at(curve.rated.settled_s))
    drawn = _sample_results(inputs, rise, final_c, rises, random)
    return {name: summarize(values) for name, values in {"rise": rises, **drawn}.items()}


def sample_rises(
    thermogram: Thermogram,
    periods: Periods,
    curve: CurveResult,
    method: str,
    trials: int,
    random: np.random.Generator,
) -> Array:
    """The rise [K] of each trial by a method, readings drawn anew, shape (trials,)."""
    if curve.rated is None or curve.noise is None:
        return np.full(trials, np.nan)
    fires = int(np.searchsorted(thermogram.time_s, periods.fired_at_s, side="right"))
    if method == "heat_balance":
        balance = _HeatBalance(thermogram, periods)
        parts = _drawn(balance.smooth(), fires, curve.noise, trials, random)
        return np.array([balance.rise(one) for part in parts for one in part])
    smooth = _smooth(thermogram, periods, curve.rated)
    parts = _drawn(smooth, fires, curve.noise, trials, random)
    return np.concatenate([RISES[method](_rated(thermogram.time_s, p, periods)) for p in parts])


def _smooth(thermogram: Thermogram, periods: Periods, rated: Rated) -> Array:
    """The curve the noise is put on: the lines in the rating periods, the readings between."""
    since = thermogram.time_s - periods.fired_at_s
    smooth = np.where(since <= 0.0, rated.fore.over(since), thermogram.temperature_c)
    return np.where(since >= rated.settled_s, rated.after.over(since), smooth)


def _drawn(
    smooth: Array, fires: int, noise: Noise, trials: int, random: np.random.Generator
) -> Iterator[Array]:
    """Curves with fresh noise and rounding, shape (part of the trials, n).

    Where between two steps of the resolution the water stood is unknown, before and after firing.
    """
    step, rho = float(noise.resolution_k), float(noise.lag_one)
    sd = float(np.sqrt(np.maximum(noise.residual_sd_k**2 - step**2 / 12.0, 0.0)))
    together = max(TOGETHER // smooth.size, 1)
    for first in range(0, trials, together):
        count = min(together, trials - first)
        errors = sd * random.standard_normal((count, smooth.size))
        for j in range(1, smooth.size) if rho else ():
            errors[:, j] = rho * errors[:, j - 1] + np.sqrt(1.0 - rho**2) * errors[:, j]
        phase = np.repeat(step * random.random((count, 2)), (fires, smooth.size - fires), axis=1)
        curves = smooth + errors
        yield np.round((curves + phase) / step) * step - phase if step else curves


def _rated(time_s: Array, temperature_c: Array, periods: Periods) -> Rated:
    settled = np.nan if periods.settled_at_s is None else periods.settled_at_s
    bounds = (periods.fore_from_s, periods.fired_at_s, settled, periods.after_until_s)
    one = np.ones(temperature_c.shape[0])
    times = np.broadcast_to(time_s, temperature_c.shape)
    return rate(times, temperature_c, *(bound * one for bound in bounds))


class _HeatBalance:
    """The heat-balance fit of one run, to be repeated on drawn readings."""

    def __init__(self, thermogram: Thermogram, periods: Periods) -> None:
        time, settled = thermogram.time_s, periods.settled_at_s
        self.readings = thermogram.temperature_c
        self.inside = (time >= periods.fore_from_s) & (time <= periods.after_until_s)
        self.since = time[self.inside] - periods.fired_at_s
        self.settled = None if settled is None else settled - periods.fired_at_s

    def smooth(self) -> Array:
        """The fitted curve [°C], the readings themselves where nothing was fitted."""
        own = self.readings[self.inside]
        smooth = self.readings.copy()
        smooth[self.inside] = own[0] + fit_heat_balance(self.since, own, self.settled).fitted_k
        return smooth

    def rise(self, temperature_c: Array) -> float:
        """The rise [K] on other readings; NaN where nothing can be fitted."""
        try:
            return fit_heat_balance(self.since, temperature_c[self.inside], self.settled).rise_k
        except NoFitError:
            return np.nan


def _sample_results(
    inputs: RunInputs, rise: Values, final_c: float, rises: Array, random: np.random.Generator
) -> dict[str, Array]:
    """Every result of each trial, all inputs drawn anew; NaN where a trial gives none."""
    quantities = [q for q in input_quantities(inputs, rise) if q.u > 0 and q.name != "rise"]
    draws = np.array([_draw(quantity, rises.size, random) for quantity in quantities])
    found = [
        _one_trial(inputs, float(k), final_c, quantities, draws[:, i]) for i, k in enumerate(rises)
    ]
    names = {name for trial in found for name in trial}
    return {name: np.array([trial.get(name, np.nan) for trial in found]) for name in sorted(names)}


def _one_trial(
    inputs: RunInputs,
    rise_k: float,
    final_c: float,
    quantities: list[InputQuantity],
    values: Array,
) -> dict[str, float]:
    if not np.isfinite(rise_k):
        return {}
    state = State(inputs, rise_k, final_c)
    for quantity, value in zip(quantities, values.tolist(), strict=True):
        state = quantity.change(state, value)
    return results(state)


def _draw(quantity: InputQuantity, count: int, random: np.random.Generator) -> Array:
    """Normal, or Student's t scaled by u where the degrees of freedom are few (6.4.9)."""
    if np.isfinite(quantity.dof):
        return quantity.value + quantity.u * random.standard_t(quantity.dof, count)
    return quantity.value + quantity.u * random.standard_normal(count)


def summarize(values: Array) -> Sampled:
    """The figures of a sample; trials without a result (NaN) are left out."""
    kept = np.sort(values[np.isfinite(values)])
    if kept.size < 100:
        raise ReductionError(
            f"Only {kept.size} trials gave a result; at least 100 are needed. Check the inputs."
        )
    inside = int(np.ceil(0.95 * kept.size))
    widths = kept[inside - 1 :] - kept[: kept.size - inside + 1]
    first = int(np.argmin(widths))
    centred = kept - kept.mean()
    u = float(np.sqrt(np.mean(centred**2)))
    excess = float(np.mean(centred**4)) / u**4 - 1.0 if u > 0 else 0.0
    error = u / 2.0 * np.sqrt(excess / kept.size)
    ends = float(kept[first]), float(kept[first + inside - 1])
    return Sampled(float(kept.mean()), u, *ends, kept.size, float(error))

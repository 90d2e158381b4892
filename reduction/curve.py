"""The thermogram of one run reduced: drift of both rating periods and the rise by every method."""

from dataclasses import dataclass

import numpy as np

from reduction import rise as methods
from reduction.heat_balance import NoFitError, fit_heat_balance
from reduction.line_rises import LINE_METHODS, READ_AT_A_MOMENT, line_rises
from reduction.rise_uncertainty import Noise, reading_noise
from reduction.thermogram import Line, Periods, Rated, Thermogram, rate

Values = dict[str, float | str | None]

NO_AFTER = "There is no after period to draw the after line through."
NO_CROSSING = "The curve does not cross this fraction of the rise inside the main period."
NO_BALANCE = "The two areas do not balance inside the main period."
NO_DRIFT = "The two rating periods have no lines that differ in temperature."
DRIFTING = "For an adiabatic jacket only: the drift stands out from zero and is not corrected for."
WHY_NOT = {"equal_areas": NO_BALANCE, "regnault_pfaundler": NO_DRIFT, "difference": NO_DRIFT}


@dataclass(frozen=True, eq=False)
class CurveResult:
    """Drift lines, rises by method name, and the time to 95 % of the rise [s after firing].

    A rise that could not be computed is None beside the sentence `why`; without an after period
    there are neither two lines nor the noise about them.
    """

    rated: Rated | None
    noise: Noise | None
    drift: dict[str, Values]
    rise: dict[str, Values]
    time_to_95_percent_s: float | None


def reduce_curve(thermogram: Thermogram, periods: Periods) -> CurveResult:
    """Everything the curve alone tells, for the periods given."""
    rated = _rate(thermogram, periods)
    has_after = periods.settled_at_s is not None and rated.after.spread_s2 > 0
    noise = reading_noise(rated.fore, rated.after, thermogram.resolution_k)
    rises = _line_methods(rated, noise, periods, thermogram) if has_after else _without_after()
    rises["heat_balance"] = _heat_balance(thermogram, periods)
    to_95 = float(methods.time_to_fraction(rated, 0.95)) if has_after else np.nan
    drift = {
        "fore": _line_values(rated.fore, periods.fired_at_s),
        "after": _line_values(rated.after, periods.fired_at_s),
    }
    if not has_after:
        return CurveResult(None, None, drift, rises, None)
    return CurveResult(rated, noise, drift, rises, finite(to_95))


def _rate(thermogram: Thermogram, periods: Periods) -> Rated:
    settled = np.nan if periods.settled_at_s is None else periods.settled_at_s
    return rate(
        thermogram.time_s,
        thermogram.temperature_c,
        periods.fore_from_s,
        periods.fired_at_s,
        settled,
        periods.after_until_s,
    )


def _line_methods(
    rated: Rated, noise: Noise, periods: Periods, thermogram: Thermogram
) -> dict[str, Values]:
    found = line_rises(rated, noise)
    places = (found.at_s + periods.fired_at_s).tolist()
    numbers = zip(found.rise_k.tolist(), found.u_k.tolist(), found.dof.tolist(), strict=True)
    rises = {name: _value(name, *three) for name, three in zip(LINE_METHODS, numbers, strict=True)}
    for name, at_s in zip(READ_AT_A_MOMENT, places, strict=False):
        rises[name]["at_s"] = finite(at_s)
    if any(has_drift(line, thermogram) for line in (rated.fore, rated.after)):
        rises["difference"]["why"] = DRIFTING
    return rises


def _without_after() -> dict[str, Values]:
    none: Values = {"rise_k": None, "u_k": None, "dof": None, "why": NO_AFTER}
    with_time: Values = none | {"at_s": None}
    rises = {name: dict(with_time) for name in READ_AT_A_MOMENT}
    return rises | {"regnault_pfaundler": dict(none), "difference": dict(none)}


def _value(name: str, rise_k: float, u_k: float, dof: float) -> Values:
    """A rise with its standard uncertainty; degrees of freedom without limit are None."""
    if not np.isfinite(rise_k):
        return {"rise_k": None, "u_k": None, "dof": None, "why": WHY_NOT.get(name, NO_CROSSING)}
    return {"rise_k": rise_k, "u_k": finite(u_k), "dof": finite(dof)}


def has_drift(line: Line, thermogram: Thermogram) -> bool:
    """Whether a line's slope is more than twice its standard uncertainty."""
    scatter = np.fmax(line.residual_sd_k, thermogram.resolution_k / np.sqrt(12.0))
    with np.errstate(invalid="ignore", divide="ignore"):  # all readings at one moment
        return bool(np.abs(line.slope) > 2.0 * scatter / np.sqrt(line.spread_s2))


def _heat_balance(thermogram: Thermogram, periods: Periods) -> Values:
    time = thermogram.time_s
    inside = (time >= periods.fore_from_s) & (time <= periods.after_until_s)
    settled = periods.settled_at_s
    try:
        fit = fit_heat_balance(
            time[inside] - periods.fired_at_s,
            thermogram.temperature_c[inside],
            None if settled is None else settled - periods.fired_at_s,
            thermogram.resolution_k,
        )
    except NoFitError as error:
        none = dict.fromkeys(("rise_k", "u_k", "dof", "leak_per_s", "residual_sd_k"))
        return none | {"why": str(error)}
    return {
        "rise_k": fit.rise_k,
        "u_k": fit.u_rise_k,
        "dof": finite(fit.dof),
        "leak_per_s": fit.leak_per_s,
        "residual_sd_k": fit.residual_sd_k,
    }


def _line_values(line: Line, fired_at_s: float) -> Values:
    mean = finite(float(line.mean_s))
    return {
        "slope_k_per_s": finite(float(line.slope)),
        "at_s": None if mean is None else fired_at_s + mean,
        "at_c": finite(float(line.mean_c)),
        "n": int(line.count),
        "residual_sd_k": finite(float(line.residual_sd_k)),
    }


def finite(number: float) -> float | None:
    """The number, or None where it is NaN or infinite."""
    return number if np.isfinite(number) else None

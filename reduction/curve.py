"""The thermogram of one run reduced: drift of both rating periods and the rise by every method."""

from dataclasses import dataclass

import numpy as np

from reduction import rise as methods
from reduction.heat_balance import NoFitError, fit_heat_balance
from reduction.thermogram import Line, Periods, Rated, Thermogram, rate

Values = dict[str, float | str | None]

NO_AFTER = "There is no after period to draw the after line through."
NO_CROSSING = "The curve does not cross this fraction of the rise inside the main period."
NO_BALANCE = "The two areas do not balance inside the main period."
NO_DRIFT = "The two rating periods have no lines that differ in temperature."


@dataclass(frozen=True, eq=False)
class CurveResult:
    """Drift lines, rises by method name, and the time to 95 % of the rise [s after firing].

    A rise that could not be computed is None beside the sentence `why`.
    """

    rated: Rated | None
    drift: dict[str, Values]
    rise: dict[str, Values]
    time_to_95_percent_s: float | None


def reduce_curve(thermogram: Thermogram, periods: Periods) -> CurveResult:
    """Everything the curve alone tells, for the periods given."""
    rated = _rate(thermogram, periods)
    has_after = periods.settled_at_s is not None and rated.after.spread_s2 > 0
    rises = _line_methods(rated, periods, thermogram) if has_after else _without_after()
    rises["heat_balance"] = _heat_balance(thermogram, periods)
    to_95 = float(methods.time_to_fraction(rated, 0.95)) if has_after else np.nan
    drift = {
        "fore": _line_values(rated.fore, periods.fired_at_s),
        "after": _line_values(rated.after, periods.fired_at_s),
    }
    return CurveResult(rated if has_after else None, drift, rises, finite(to_95))


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


def _line_methods(rated: Rated, periods: Periods, thermogram: Thermogram) -> dict[str, Values]:
    fired = periods.fired_at_s
    return {
        "fraction": _crossing(methods.fraction(rated), fired, NO_CROSSING),
        "fraction_060": _crossing(methods.fraction(rated, methods.PHI_FUEL), fired, NO_CROSSING),
        "fraction_by_hand": _crossing(methods.fraction_by_hand(rated), fired, NO_CROSSING),
        "equal_areas": _crossing(methods.equal_areas(rated), fired, NO_BALANCE),
        "regnault_pfaundler": _value(methods.regnault_pfaundler(rated), NO_DRIFT),
        "difference": _difference(rated, thermogram),
    }


def _without_after() -> dict[str, Values]:
    none: Values = {"rise_k": None, "why": NO_AFTER}
    with_time: Values = {"rise_k": None, "at_s": None, "why": NO_AFTER}
    crossings = ("fraction", "fraction_060", "fraction_by_hand", "equal_areas")
    rises = {name: dict(with_time) for name in crossings}
    return rises | {"regnault_pfaundler": dict(none), "difference": dict(none)}


def _crossing(rise: methods.Rise, fired_at_s: float, why: str) -> Values:
    value = _value(rise.rise_k, why)
    at_s = finite(float(rise.at_s))
    place: Values = {"at_s": None if at_s is None else fired_at_s + at_s}
    return {"rise_k": value.pop("rise_k")} | place | value


def _value(rise_k: np.ndarray[tuple[int, ...], np.dtype[np.float64]], why: str) -> Values:
    number = finite(float(rise_k))
    return {"rise_k": None, "why": why} if number is None else {"rise_k": number}


def _difference(rated: Rated, thermogram: Thermogram) -> Values:
    """The plain difference, with a caution where a drift stands out from zero."""
    value = _value(methods.difference(rated), NO_DRIFT)
    if any(has_drift(line, thermogram) for line in (rated.fore, rated.after)):
        value["why"] = (
            "For an adiabatic jacket only: the drift stands out from zero and is not corrected for."
        )
    return value


def has_drift(line: Line, thermogram: Thermogram) -> bool:
    """Whether a line's slope is more than twice its standard uncertainty."""
    scatter = np.fmax(line.residual_sd_k, thermogram.resolution_k / np.sqrt(12.0))
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
        )
    except NoFitError as error:
        return {"rise_k": None, "leak_per_s": None, "residual_sd_k": None, "why": str(error)}
    return {
        "rise_k": fit.rise_k,
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

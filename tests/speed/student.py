"""The reduction as a careful student would write it: one run at a time, a library call a step.

Straight lines by numpy.polyfit, crossings by scipy.optimize.brentq on the interpolated curve,
integrals by scipy.integrate.quad or by Simpson's rule over the readings.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import quad, simpson
from scipy.optimize import brentq

Array = NDArray[np.float64]
Function = Callable[[float], float]
Integral = Callable[[Function, float, float], float]


def by_quad(function: Function, start: float, end: float) -> float:
    """Adaptive quadrature, as it comes."""
    return float(quad(function, start, end, limit=200)[0]) if end > start else 0.0


def by_simpson(time_s: Array) -> Integral:
    """Simpson's rule over the readings between two moments, and those moments."""

    def integral(function: Function, start: float, end: float) -> float:
        inside = time_s[(time_s > start) & (time_s < end)]
        points = np.concatenate([[start], inside, [end]])
        return float(simpson(function(points), x=points))

    return integral


def listed_steps(
    time_s: Array, temperature_c: Array, fired_s: float, settled_s: float, integral: Integral
) -> dict[str, float]:
    """Both lines, the two crossings, one integral: three rises and no uncertainty."""
    fore, after = time_s <= fired_s, time_s >= settled_s
    low = np.polyfit(time_s[fore], temperature_c[fore], 1)
    high = np.polyfit(time_s[after], temperature_c[after], 1)
    bounds = fired_s, settled_s
    return _crossings(time_s, temperature_c, low, high, bounds) | {
        "regnault_pfaundler": _integrated(time_s, temperature_c, low, high, bounds, integral)
    }


def all_results(
    time_s: Array, temperature_c: Array, fired_s: float, settled_s: float, integral: Integral
) -> dict[str, float]:
    """Every rise that reads two lines, each with the uncertainty of the lines where it is read."""
    fore, after = time_s <= fired_s, time_s >= settled_s
    low, low_cov = np.polyfit(time_s[fore], temperature_c[fore], 1, cov=True)
    high, high_cov = np.polyfit(time_s[after], temperature_c[after], 1, cov=True)
    bounds = fired_s, settled_s
    rises = _crossings(time_s, temperature_c, low, high, bounds)
    rises |= _equal_areas(time_s, temperature_c, low, high, bounds, integral)
    rises["regnault_pfaundler"] = _integrated(time_s, temperature_c, low, high, bounds, integral)
    rises["difference"] = float(np.polyval(high, settled_s) - np.polyval(low, fired_s))
    for name in ("fraction", "fraction_060", "equal_areas"):
        moment = np.array([rises[f"{name}_at_s"], 1.0])
        variance = moment @ (low_cov + high_cov) @ moment
        rises[f"{name}_u_k"] = float(np.sqrt(variance))
    ends = np.array([fired_s, 1.0]), np.array([settled_s, 1.0])
    variance = ends[0] @ low_cov @ ends[0] + ends[1] @ high_cov @ ends[1]
    rises["regnault_pfaundler_u_k"] = rises["difference_u_k"] = float(np.sqrt(variance))
    return rises


def _crossings(
    time_s: Array, temperature_c: Array, low: Array, high: Array, bounds: tuple[float, float]
) -> dict[str, float]:
    found = {}
    for name, phi in (("fraction", 1.0 - np.exp(-1.0)), ("fraction_060", 0.60)):

        def above(t: float, phi: float = phi) -> float:
            start, end = np.polyval(low, t), np.polyval(high, t)
            return float(np.interp(t, time_s, temperature_c) - start - phi * (end - start))

        at_s = brentq(above, *bounds)
        found[f"{name}_at_s"] = at_s
        found[name] = float(np.polyval(high, at_s) - np.polyval(low, at_s))
    return found


def _equal_areas(
    time_s: Array,
    temperature_c: Array,
    low: Array,
    high: Array,
    bounds: tuple[float, float],
    integral: Integral,
) -> dict[str, float]:
    def above(t: float) -> float:
        return np.interp(t, time_s, temperature_c) - np.polyval(low, t)

    def below(t: float) -> float:
        return np.polyval(high, t) - np.interp(t, time_s, temperature_c)

    at_s = brentq(
        lambda t: integral(above, bounds[0], t) - integral(below, t, bounds[1]), *bounds, xtol=1e-6
    )
    rise = float(np.polyval(high, at_s) - np.polyval(low, at_s))
    return {"equal_areas": rise, "equal_areas_at_s": at_s}


def _integrated(
    time_s: Array,
    temperature_c: Array,
    low: Array,
    high: Array,
    bounds: tuple[float, float],
    integral: Integral,
) -> float:
    fore, after = time_s <= bounds[0], time_s >= bounds[1]
    cold, hot = temperature_c[fore].mean(), temperature_c[after].mean()

    def drift(t: float) -> float:
        return low[0] + (high[0] - low[0]) * (np.interp(t, time_s, temperature_c) - cold) / (
            hot - cold
        )

    ends = np.polyval(high, bounds[1]) - np.polyval(low, bounds[0])
    return float(ends - integral(drift, *bounds))

"""How often a chart cries wolf: false alarms in the next 8 values of an unchanged bench.

Limits found from few values are themselves uncertain, and a textbook chart takes them for true.
The rates are simulated with normal values; `RATES` is the printed outcome of one long simulation,
so that asking for a rate costs nothing.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import inf, sqrt

import numpy as np
from numpy.typing import NDArray

from reduction.drift.baselines import Benches
from reduction.drift.charts import cusum, ewma, individuals, run_rules
from reduction.drift.scheme import Rules
from reduction.drift.walk import walk

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

AHEAD = 8
POOL_DEGREES = 20.0
"""Degrees of freedom of the scatter pooled from other benches in the simulated scheme."""

CUSUM_ALLOWANCE, CUSUM_INTERVAL = 0.5, 5.0
"""k and h of the CUSUM in units of sigma (common practice, no source)."""

VALUES_AT_ONCE = 1_000_000

COUNTS = (3, 4, 5, 6, 8, 10, 15, 20, 30, 50, 100, 1000)

RATES: dict[str, tuple[float, ...]] = {
    "individuals": (
        0.3330, 0.2763, 0.2350, 0.2025, 0.1623, 0.1343,
        0.0978, 0.0752, 0.0547, 0.0409, 0.0305, 0.0223,
    ),
    "run rules": (
        0.4396, 0.3770, 0.3319, 0.2950, 0.2477, 0.2140,
        0.1678, 0.1378, 0.1080, 0.0864, 0.0686, 0.0559,
    ),
    "ewma": (
        0.3354, 0.2701, 0.2223, 0.1895, 0.1447, 0.1157,
        0.0788, 0.0598, 0.0394, 0.0276, 0.0183, 0.0127,
    ),
    "cusum": (
        0.3166, 0.2490, 0.2004, 0.1675, 0.1229, 0.0955,
        0.0602, 0.0428, 0.0266, 0.0172, 0.0100, 0.0062,
    ),
    "scheme": (
        0.0270, 0.0278, 0.0293, 0.0302, 0.0318, 0.0323,
        0.0345, 0.0348, 0.0347, 0.0363, 0.0368, 0.0370,
    ),
}  # fmt: skip
"""Rates at `COUNTS` baseline values, each from 100 000 simulated series (error at most 0.0016)."""


@dataclass(frozen=True)
class Rate:
    """Share of simulated series with an alarm, and its standard error `√(p(1 − p)/N)`."""

    share: float
    error: float


def false_alarm_rate(chart: str, n: int) -> float:
    """Probability of a false alarm within the next 8 values, after n ≥ 3 baseline values.

    `chart` is "individuals", "run rules", "ewma", "cusum" or "scheme" (20 degrees of pooled
    scatter, no indifference region). Between the simulated n the rate is a straight line in 1/n.
    Raises ValueError for another chart or a smaller n.
    """
    if chart not in RATES or n < COUNTS[0]:
        raise ValueError(
            f"Chart {chart!r} with {n} baseline values: expected one of {', '.join(RATES)} with "
            f"{COUNTS[0]} values or more."
        )
    inverse = [1.0 / count for count in COUNTS]
    return float(np.interp(1.0 / n, inverse[::-1], RATES[chart][::-1]))


def simulate(chart: str, n: int, series: int = 20_000, seed: int = 0, shift: float = 0.0) -> Rate:
    """Share of series with an alarm in the 8 values after n baseline values, by simulation.

    Normal values with sd 1; the 8 are shifted by `shift` sigma: 0 gives the false-alarm rate, else
    the probability of detection. The same seed gives the same share.
    """
    rng = np.random.default_rng([seed, n])
    at_once = max(VALUES_AT_ONCE // (n + AHEAD), 1)
    alarmed = 0
    for done in range(0, series, at_once):
        values = rng.standard_normal((min(at_once, series - done), n + AHEAD))
        values[:, n:] += shift
        alarmed += int(ALARMS[chart](values, n, rng)[:, n:].any(axis=1).sum())
    share = alarmed / series
    return Rate(share, sqrt(share * (1.0 - share) / series))


def scheme_alarms(values: Array, n: int, rng: np.random.Generator) -> Flags:
    """Where the scheme speaks with a baseline of n values and a scatter pooled elsewhere."""
    rules = Rules(fewest=n, baseline_points=n, indifference=0.0, floor=0.0)
    pool_sd = np.sqrt(rng.chisquare(POOL_DEGREES, values.shape[0]) / POOL_DEGREES)
    return np.asarray(walk(unfrozen(values, pool_sd, POOL_DEGREES), rules).side != 0)


def unfrozen(values: Array, pool_sd: Array, pool_degrees: float) -> Benches:
    """Benches of shape (benches, points), every value counted, with no limits frozen."""
    size, points = values.shape
    one, never = np.ones(size), np.full(size, points + 1)
    counted, u = np.ones(values.shape, dtype=bool), np.zeros(values.shape)
    degrees, known = np.full(size, pool_degrees), np.full(size, inf)
    return Benches(values, counted, u, known, pool_sd, degrees, never, one, one, one, one)


def _individuals_alarms(values: Array, n: int, rng: np.random.Generator) -> Flags:
    chart = individuals(values[:, :n])
    return (values < chart.lower[:, None]) | (values > chart.upper[:, None])


def _run_rules_alarms(values: Array, n: int, rng: np.random.Generator) -> Flags:
    """Runs are counted from the first value after the baseline on."""
    chart = individuals(values[:, :n])
    standardized = (values[:, n:] - chart.mean[:, None]) / chart.sigma[:, None]
    return np.pad(run_rules(standardized), ((0, 0), (n, 0)))


def _ewma_alarms(values: Array, n: int, rng: np.random.Generator) -> Flags:
    chart = individuals(values[:, :n])
    return np.pad(ewma(values[:, n:], chart.mean, chart.sigma).signals, ((0, 0), (n, 0)))


def _cusum_alarms(values: Array, n: int, rng: np.random.Generator) -> Flags:
    chart = individuals(values[:, :n])
    k, h = CUSUM_ALLOWANCE * chart.sigma, CUSUM_INTERVAL * chart.sigma
    return np.pad(cusum(values[:, n:], chart.mean, k, h).signals, ((0, 0), (n, 0)))


ALARMS: dict[str, Callable[[Array, int, np.random.Generator], Flags]] = {
    "individuals": _individuals_alarms,
    "run rules": _run_rules_alarms,
    "ewma": _ewma_alarms,
    "cusum": _cusum_alarms,
    "scheme": scheme_alarms,
}

"""Print how often each chart cries wolf, and what the scheme finds, with Monte Carlo errors.

    .venv/bin/python -m tests.speed.false_alarm_table [--series 100000] [--seed 0]

The first table is the source of `RATES` in `reduction/drift/false_alarms.py`: with the default
arguments its figures are the ones kept there.
"""

import argparse
import sys

import numpy as np

from reduction.drift.false_alarms import (
    AHEAD,
    ALARMS,
    COUNTS,
    POOL_DEGREES,
    Rate,
    simulate,
    unfrozen,
)
from reduction.drift.scheme import Rules
from reduction.drift.walk import walk

SHIFTS = (1.0, 1.5, 2.0, 2.5, 3.0)
LAST = 51


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--series", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=0)
    chosen = parser.parse_args()
    print_false_alarms(chosen.series, chosen.seed)
    print_detection(chosen.series, chosen.seed)
    print_default_rules(chosen.series // 5, chosen.seed)


def print_false_alarms(series: int, seed: int) -> None:
    print(f"False alarms within {AHEAD} values of an unchanged bench, {series} series each")
    print(" ".join(["baseline n", *(f"{chart:>17}" for chart in ALARMS)]))
    for n in COUNTS:
        print_row(f"{n:>10}", [simulate(chart, n, series, seed) for chart in ALARMS])


def print_detection(series: int, seed: int) -> None:
    print(f"\nShift found by the scheme within {AHEAD} values, {series} series each")
    print(" ".join(["baseline n", *(f"{f'{shift} sigma':>17}" for shift in SHIFTS)]))
    for n in (3, 5, 8, 20):
        print_row(f"{n:>10}", [simulate("scheme", n, series, seed, s) for s in SHIFTS])


def print_default_rules(series: int, seed: int) -> None:
    """The baseline grows from 3 to 8 values; the worst window of 8 values from n = 3 on."""
    rules = Rules(indifference=0.0, floor=0.0)
    print(f"\nDefault rules without indifference region, {series} series each")
    print("pooled degrees   worst window of 8   out of line in it")
    for degrees in (0.0, 1.0, POOL_DEGREES, 1e6):
        rng = np.random.default_rng([seed, int(degrees)])
        values = rng.standard_normal((series, LAST))
        spread = rng.chisquare(degrees, series) / degrees if degrees else np.zeros(series)
        track = walk(unfrozen(values, np.sqrt(spread), degrees), rules)
        alarms, confirmed = (worst_window(hits) for hits in (track.side != 0, track.level == 2))
        print_row(f"{degrees:>14g}", [alarms, confirmed])


def worst_window(hits: np.ndarray) -> Rate:
    windows = range(3, LAST - AHEAD + 1)
    share = max(float(hits[:, a : a + AHEAD].any(axis=1).mean()) for a in windows)
    return Rate(share, float(np.sqrt(share * (1.0 - share) / hits.shape[0])))


def print_row(label: str, rates: list[Rate]) -> None:
    print(" ".join([label, *(f"{rate.share:>8.4f} ± {rate.error:.4f}" for rate in rates)]))
    sys.stdout.flush()


if __name__ == "__main__":
    main()

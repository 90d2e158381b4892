"""False alarms and detection by simulation, with its Monte Carlo error; all seeds are fixed.

The rates to meet are those the scheme was designed for: an independent simulation, printed to two
or three digits. A figure agrees when it lies within half a unit of the last printed digit and
three standard errors √(p(1 − p)/N) of our own share; with 40 000 series those are at most 0.0025.
"""

import numpy as np
import pytest
from scipy import stats

from reduction.drift.false_alarms import (
    AHEAD,
    COUNTS,
    RATES,
    Rate,
    false_alarm_rate,
    simulate,
    unfrozen,
)
from reduction.drift.scheme import Rules
from reduction.drift.walk import Track, walk

SERIES = 40_000

# Baseline values: 3 sigma from the moving range, with the four run rules, the scheme at 20 degrees.
DESIGN_RATES = {
    3: (0.33, 0.44, 0.026),
    5: (0.23, 0.33, 0.030),
    8: (0.16, 0.24, 0.032),
    20: (0.08, 0.14, 0.035),
}
PRINTED_TO = {"individuals": 0.01, "run rules": 0.01, "scheme": 0.001}
DESIGN_DETECTION = {1.5: (0.55, 0.01), 2.0: (0.83, 0.01), 2.5: (0.96, 0.01), 3.0: (0.996, 0.001)}


def assert_agrees(found: Rate, printed: float, last_digit: float) -> None:
    assert found.share == pytest.approx(printed, abs=last_digit / 2.0 + 3.0 * found.error)


@pytest.mark.parametrize("column", range(3))
@pytest.mark.parametrize("n", DESIGN_RATES)
def test_false_alarms_are_those_of_the_design(n: int, column: int) -> None:
    chart, last_digit = list(PRINTED_TO.items())[column]
    assert_agrees(simulate(chart, n, SERIES), DESIGN_RATES[n][column], last_digit)


@pytest.mark.parametrize("shift", DESIGN_DETECTION)
def test_shifts_are_found_as_often_as_designed(shift: float) -> None:
    # A baseline of 8 values, the shift found within the next 8.
    assert_agrees(simulate("scheme", 8, SERIES, shift=shift), *DESIGN_DETECTION[shift])


def test_known_limits_give_the_rate_of_the_normal_law() -> None:
    # 1 − (1 − 2·Φ(−3))⁸ = 0.0214 for limits that are not estimated; scipy.stats as second package.
    exact = 1.0 - (1.0 - 2.0 * stats.norm.sf(3.0)) ** 8
    assert false_alarm_rate("individuals", 10**9) == pytest.approx(exact, abs=0.0015)


def test_the_rate_promised_cannot_be_exceeded_by_a_fixed_baseline() -> None:
    # The first EWMA is the first value in other units, held against the narrower limit; the chances
    # of all limits added up (Bonferroni) stay below 0.05 whatever the degrees of freedom.
    rules = Rules()
    ewma, value = stats.norm.sf(rules.width), 1.0 - rules.coverage
    assert 2.0 * (AHEAD * ewma + (AHEAD - 1) * value) < 0.05


def default_walk(degrees: float, seed: int) -> Track:
    """Unchanged benches under the default rules, without the mercy of an indifference region."""
    rng = np.random.default_rng(seed)
    values = rng.standard_normal((10_000, 35))
    spread = rng.chisquare(degrees, 10_000) / degrees if degrees else np.zeros(10_000)
    benches = unfrozen(values, np.sqrt(spread), degrees)
    return walk(benches, Rules(indifference=0.0, floor=0.0))


@pytest.mark.parametrize("degrees", [0.0, 2.0, 20.0, 1e6])
def test_default_rules_keep_the_promised_rate_from_three_values_on(degrees: float) -> None:
    # Monte Carlo error √(0.05·0.95/10 000) = 0.0022; three of them are added to the share.
    track = default_walk(degrees, 17)
    for start in range(3, 28):
        share = (track.side[:, start : start + AHEAD] != 0).any(axis=1).mean()
        assert share + 3.0 * 0.0022 < 0.05


def test_out_of_line_is_rarer_still_by_the_check_run() -> None:
    track = default_walk(20.0, 18)
    watched = (track.level >= 1).any(axis=1).mean()
    confirmed = (track.level == 2).any(axis=1).mean()
    assert confirmed < watched / 3.0


@pytest.mark.parametrize("pool_degrees", [4.0, 20.0, 60.0])
@pytest.mark.parametrize("u_degrees", [8.0, 20.0])
def test_a_noisy_bench_is_not_called_more_often_than_promised(
    pool_degrees: float, u_degrees: float
) -> None:
    # Three times the pooled scatter, u from the bench's own runs.
    rng = np.random.default_rng(19)
    benches = unfrozen(3.0 * rng.standard_normal((10_000, 24)), np.ones(10_000), pool_degrees)
    benches.u[:] = 3.0 * np.sqrt(rng.chisquare(u_degrees, 10_000) / u_degrees)[:, None]
    benches.u_degrees[:] = u_degrees
    track = walk(benches, Rules(indifference=0.0, floor=0.0))
    for start in range(3, 17):
        share = (track.side[:, start : start + AHEAD] != 0).any(axis=1).mean()
        assert share + 3.0 * 0.0022 < 0.05


@pytest.mark.parametrize("chart", RATES)
@pytest.mark.parametrize("n", [3, 8, 50])
def test_the_kept_rates_are_simulated_again(chart: str, n: int) -> None:
    # Another seed than the table's; both errors, 0.0016 at most for the table.
    found = simulate(chart, n, 20_000, seed=1)
    assert false_alarm_rate(chart, n) == pytest.approx(found.share, abs=3.5 * found.error + 0.0016)


@pytest.mark.parametrize("chart", RATES)
def test_rates_between_the_kept_counts_lie_between(chart: str) -> None:
    assert len(RATES[chart]) == len(COUNTS)
    low, between, high = (false_alarm_rate(chart, n) for n in (6, 7, 8))
    assert min(low, high) < between < max(low, high)


@pytest.mark.parametrize(("chart", "n"), [("ewma", 2), ("median", 8)])
def test_unknown_rates_are_refused(chart: str, n: int) -> None:
    with pytest.raises(ValueError, match="expected one of individuals"):
        false_alarm_rate(chart, n)

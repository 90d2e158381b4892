"""Breaks found again in series whose truth is known; all seeds are fixed.

Dates and scatter are drawn anew for every series: 8 to 24 values over 700 days, sd 30 J/K, known
from 20 degrees of freedom.
"""

from collections import Counter
from dataclasses import dataclass

import numpy as np
import pytest
from scipy import stats

from reduction.drift import Break, Scatter, find_break

SERIES = 400


@dataclass(frozen=True)
class Case:
    """A series with what truly happened, and what was found in it."""

    at: float
    size: float
    found: Break


def estimated(rng: np.random.Generator) -> Scatter:
    return Scatter(30.0 * float(np.sqrt(rng.chisquare(20.0) / 20.0)), 20.0)


def stepped(size_in_sigma: float) -> list[Case]:
    rng = np.random.default_rng(int(10 * size_in_sigma))
    cases = []
    for _ in range(SERIES):
        n = int(rng.integers(8, 25))
        first = int(rng.integers(2, n - 1))
        days = np.sort(rng.uniform(0.0, 700.0, n))
        at = float(rng.uniform(days[first - 1], days[first]))
        size = 30.0 * size_in_sigma * float(rng.choice([-1.0, 1.0]))
        values = 10_000.0 + 30.0 * rng.standard_normal(n) + np.where(days > at, size, 0.0)
        cases.append(Case(at, size, find_break(values, estimated(rng), days)))
    return cases


def drifted(per_day: float) -> list[Break]:
    rng = np.random.default_rng(29)
    found = []
    for _ in range(SERIES):
        days = np.sort(rng.uniform(0.0, 700.0, int(rng.integers(8, 25))))
        values = 10_000.0 + 30.0 * rng.standard_normal(days.size) + per_day * days
        found.append(find_break(values, estimated(rng), days))
    return found


@pytest.mark.parametrize("size", [3.0, 4.5, 6.0])
def test_date_and_size_of_a_step_lie_within_their_intervals(size: float) -> None:
    # Monte Carlo error √(0.95·0.05/400) = 0.011.
    cases = stepped(size)
    steps = [(case, case.found.step) for case in cases if case.found.step is not None]
    assert len(steps) == SERIES
    dated = np.mean([step.earliest <= case.at <= step.latest for case, step in steps])
    sized = np.mean([step.size_lower <= case.size <= step.size_upper for case, step in steps])
    assert dated >= 0.93 and sized >= 0.93


def test_a_step_is_told_from_a_slow_drift() -> None:
    kinds = Counter(case.found.kind for case in stepped(5.0))
    assert kinds["step"] > 0.9 * SERIES and kinds["slow drift"] < 0.05 * SERIES


def test_a_slow_drift_is_told_from_a_step() -> None:
    # 8 sigma over the 700 days.
    kinds = Counter(found.kind for found in drifted(8 * 30.0 / 700.0))
    assert kinds["slow drift"] > 0.9 * SERIES and kinds["step"] < 0.05 * SERIES


@pytest.mark.parametrize("per_day", [0.0, 0.13, 0.34])
def test_the_slope_lies_within_its_interval(per_day: float) -> None:
    slopes = [found.slope for found in drifted(per_day)]
    covered = [slope is not None and slope.lower <= per_day <= slope.upper for slope in slopes]
    assert np.mean(covered) >= 0.93


def test_an_unchanged_bench_rarely_shows_a_break() -> None:
    kinds = Counter(found.kind for found in drifted(0.0))
    assert kinds["none"] > 0.75 * SERIES


def test_the_place_of_a_clear_step_is_told_in_words() -> None:
    values = [10_000.0, 10_020.0, 9980.0, 10_010.0, 10_210.0, 10_190.0, 10_220.0, 10_200.0]
    days = [0.0, 20.0, 40.0, 60.0, 80.0, 100.0, 120.0, 140.0]
    found = find_break(values, Scatter(20.0, 30.0), days, date=lambda day: f"day no. {day:.0f}")
    # By hand: means 10 002.5 and 10 205.0.
    assert found.kind == "step" and found.step is not None
    assert (found.step.index, found.step.earliest, found.step.latest) == (4, 60.0, 80.0)
    assert found.step.size == pytest.approx(202.5, abs=0.1)
    half = 2.042 * 20.0 * 0.5**0.5  # t of 30 degrees, both means of four values
    assert found.step.size_upper - found.step.size == pytest.approx(half, abs=0.2)
    assert found.reason == (
        "The level most likely stepped up by 202 J/K (2.0 %), 95 % interval +174 to +231, between "
        "day no. 60 and day no. 80. Look at what was changed at that time."
    )


def test_a_clear_drift_is_told_in_words() -> None:
    days = np.arange(12) * 60.0
    wobble = np.tile([5.0, -5.0, -5.0, 5.0], 3)  # no slope of its own
    found = find_break(10_000.0 - days / 3.0 + wobble, Scatter(15.0, 30.0), days)
    assert found.kind == "slow drift"
    assert found.reason.startswith("The level most likely fell slowly, by 122 J/K (1.2 %) a year")
    assert found.reason.endswith(
        "from day 0 to day 660. Look at what wears: thermometer, stirrer, seals."
    )


def test_the_place_of_a_step_has_its_marginal_probability() -> None:
    # Sigma known; scipy.stats with both levels normal and very wide instead of integrated out.
    values = np.array([0.0, 1.0, -0.5, 0.3, 1.4, 2.2, 0.9, 1.8])
    logs = []
    for first in range(1, values.size):
        level = (np.arange(values.size) < first).astype(float)
        together = np.outer(level, level) + np.outer(1.0 - level, 1.0 - level)
        covariance = np.eye(values.size) + 1e6 * together
        logs.append(stats.multivariate_normal.logpdf(values, np.zeros(values.size), covariance))
    weights = np.exp(np.array(logs) - max(logs))
    found = find_break(values, Scatter(1.0, 1e8))
    assert found.step is not None
    assert found.step.probability[1:] == pytest.approx(weights / weights.sum(), abs=1e-5)


def test_excluded_values_are_left_out_but_keep_their_places() -> None:
    values = [10_000.0, 12_000.0, 10_010.0, 9990.0, 10_200.0, 10_210.0, 10_190.0]
    found = find_break(values, Scatter(20.0, 30.0), excluded=[False, True, *[False] * 5])
    assert found.kind == "step" and found.step is not None
    assert found.step.index == 4 and found.step.probability[1] == 0.0
    assert found.step.probability.sum() == pytest.approx(1.0)


def test_values_of_one_day_show_no_slope() -> None:
    found = find_break([10.0, 10.1, 9.9, 10.0, 10.1], Scatter(0.1, 20.0), days=[3.0] * 5)
    assert found.slope is None and found.kind == "none"
    assert found.reason.startswith("No break stands out of the scatter in these 5 values")


def test_three_values_are_too_few_for_a_break() -> None:
    found = find_break([10.0, 10.1, 10.5], Scatter(0.1, 20.0))
    assert found.kind == "too few points" and found.step is None
    assert found.reason == "3 values: at least 4 are needed to look for a break."


def test_a_break_needs_a_scatter_and_days_in_order() -> None:
    with pytest.raises(ValueError, match="a scatter above zero"):
        find_break([1.0, 2.0, 3.0, 4.0], Scatter(0.0, 0.0))
    with pytest.raises(ValueError, match="Sort the values by date"):
        find_break([1.0, 2.0, 3.0, 4.0], Scatter(1.0, 9.0), days=[0.0, 2.0, 1.0, 3.0])

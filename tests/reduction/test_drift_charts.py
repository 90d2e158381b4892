"""The textbook charts against the printed examples of the NIST/SEMATECH e-Handbook."""

import numpy as np
import pytest

from reduction.drift.charts import cusum, ewma, individuals, run_rules

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2.
FLOW_RATES = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]

# The same, 6.3.2.4: the values, and the EWMA printed beside them.
EWMA_VALUES = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, *FLOW_RATES]
EWMA_PRINTED = [
    50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
    50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
]  # fmt: skip

# The same, 6.3.2.3.
CUSUM_VALUES = [
    324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
    324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
]  # fmt: skip


def test_individuals_chart_has_the_printed_limits() -> None:
    # e-Handbook 6.3.2.2: mean 50.81, mean moving range 1.8778, limits 55.8041 and 45.8159.
    chart = individuals(FLOW_RATES)
    assert float(chart.mean) == pytest.approx(50.81, abs=5e-9)
    assert float(chart.mean_range) == pytest.approx(1.8778, abs=5e-5)
    assert float(chart.upper) == pytest.approx(55.8041, abs=5e-5)
    assert float(chart.lower) == pytest.approx(45.8159, abs=5e-5)


def test_sigma_follows_from_the_mean_moving_range() -> None:
    # By hand: ranges 1, 3, 2 give 2, over d2 1.128; D4 3.267 (common practice, no source).
    chart = individuals([1.0, 2.0, 5.0, 3.0])
    assert float(chart.sigma) == pytest.approx(2.0 / 1.128)
    assert float(chart.range_upper) == pytest.approx(6.534)


def test_ewma_takes_the_printed_course() -> None:
    # e-Handbook 6.3.2.4: start 50, s 2.0539, weight 0.3, k 3.
    chart = ewma(EWMA_VALUES, 50.0, 2.0539)
    assert chart.values == pytest.approx(EWMA_PRINTED, abs=5e-3 + 1e-9)


def test_ewma_has_the_printed_limits() -> None:
    # e-Handbook 6.3.2.4: 52.5884 and 47.4115, the latter 47.41157 cut off, not rounded.
    chart = ewma(EWMA_VALUES, 50.0, 2.0539)
    assert chart.upper == pytest.approx([52.5884] * 20, abs=5e-5)
    assert np.floor(chart.lower * 1e4).tolist() == [474115.0] * 20
    assert not chart.signals.any()


def test_exact_ewma_limits_open_up_to_the_asymptotic_ones() -> None:
    # Variance λ/(2 − λ)·(1 − (1 − λ)^2i), computed: the first value alone counts λ²σ².
    exact, asymptotic = (ewma(EWMA_VALUES, 50.0, 2.0, exact=e) for e in (True, False))
    assert exact.upper[0] == pytest.approx(50.0 + 3.0 * 0.3 * 2.0)
    assert exact.upper[-1] == pytest.approx(asymptotic.upper[-1], abs=1e-5)
    assert (np.diff(exact.upper) > 0.0).all()


def test_cusum_takes_the_printed_course() -> None:
    # e-Handbook 6.3.2.3: target 325, k 0.3175, h 4.1959; 3.01 at group 13, 4.94 at 14, the first
    # signal, 19.04 at the end.
    chart = cusum(CUSUM_VALUES, 325.0, 0.3175, 4.1959)
    printed = {13: 3.01, 14: 4.94, 20: 19.04}
    for group, total in printed.items():
        assert chart.above[group - 1] == pytest.approx(total, abs=5e-3 + 1e-9)
    assert np.flatnonzero(chart.signals)[0] == 13


def test_cusum_column_agrees_with_the_rest_of_the_table() -> None:
    # The same table's upper sums between those above and its lower sums, from memory.
    chart = cusum(CUSUM_VALUES, 325.0, 0.3175, 4.1959)
    above = [0.0, 0.0, 0.0, 0.0, 0.03, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]
    above += [3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04]
    below = [0.0, 0.01, 0.0, 0.33, 0.0, 0.0, 0.56, 0.72, 0.17, 0.25, 0.31, *[0.0] * 9]
    assert chart.above == pytest.approx(above, abs=6e-3)
    assert chart.below == pytest.approx(below, abs=6e-3)


def test_cusum_looks_both_ways() -> None:
    up = cusum([1.0, 2.0, 3.0], 0.0, 0.5, 2.0)
    down = cusum([-1.0, -2.0, -3.0], 0.0, 0.5, 2.0)
    assert up.above.tolist() == down.below.tolist() == [0.5, 2.0, 4.5]
    assert up.signals.tolist() == down.signals.tolist() == [False, False, True]


@pytest.mark.parametrize(
    ("standardized", "spoken"),
    [
        # The four classical rules, worked by hand.
        ([0.0, 3.1, 0.0], [False, True, False]),
        ([2.1, 0.0, 2.1], [False, False, True]),
        ([2.1, 0.0, 0.0, 2.1], [False] * 4),
        ([2.1, 0.0, -2.1], [False] * 3),
        ([1.1, 1.1, 0.0, 1.1, 1.1], [False] * 4 + [True]),
        ([1.1, 1.1, 0.0, 1.1, -1.1, 1.1], [False] * 6),
        ([0.1] * 9, [False] * 7 + [True] * 2),
        ([-0.1] * 8, [False] * 7 + [True]),
        ([0.1] * 7 + [-0.1] + [0.1] * 7, [False] * 15),
    ],
)
def test_run_rules_by_hand(standardized: list[float], spoken: list[bool]) -> None:
    assert run_rules(standardized).tolist() == spoken


def test_many_series_are_charted_as_each_alone() -> None:
    rows = np.random.default_rng(1).normal(50.0, 2.0, (4, 12))
    chart, averages = individuals(rows), ewma(rows, rows.mean(1), rows.std(1))
    sums = cusum(rows, rows.mean(1), 0.5 * rows.std(1), 4.0 * rows.std(1))
    for row, values in enumerate(rows):
        assert chart.upper[row] == individuals(values).upper
        alone = ewma(values, values.mean(), values.std())
        assert averages.values[row] == pytest.approx(alone.values)
        summed = cusum(values, values.mean(), 0.5 * values.std(), 4.0 * values.std())
        assert sums.above[row] == pytest.approx(summed.above)


def test_what_cannot_be_charted_is_refused() -> None:
    with pytest.raises(ValueError, match="at least two"):
        individuals([50.0])
    with pytest.raises(ValueError, match="Weight"):
        ewma([50.0], 50.0, 1.0, weight=1.2)

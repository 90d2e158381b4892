"""Replicate statistics against printed tables and a second package."""

import numpy as np
import pytest
from scipy import stats

from reduction import drift
from reduction.notes import Thresholds
from reduction.replicates import (
    DIXON_Q,
    critical_range,
    dixon_q,
    grubbs,
    range_factor,
    replicate_notes,
    student_t,
    summarize,
)

# NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1.
MASS_SPECTROMETER = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]


@pytest.mark.parametrize(("degrees", "t"), [(2, 4.303), (3, 3.182), (4, 2.776)])
def test_two_sided_95_percent_t(degrees: int, t: float) -> None:
    # Tables of Student's t; scipy.stats as second package.
    assert student_t(degrees) == pytest.approx(t, abs=0.0005)
    assert student_t(degrees) == pytest.approx(stats.t.ppf(0.975, degrees), rel=1e-9)


def test_three_values_give_mean_spread_and_interval() -> None:
    # By hand: mean 10, s = 1, half width 4.303/√3.
    summary = summarize([9.0, 10.0, 11.0])
    assert (summary.n, summary.mean, summary.s) == (3, 10.0, 1.0)
    assert summary.half_width == pytest.approx(4.3027 / 3**0.5, abs=1e-4)
    assert summary.lower == pytest.approx(10.0 - 2.4841, abs=1e-3)


def test_one_run_gives_no_interval() -> None:
    summary = summarize([10135.0])
    assert summary.s is None and summary.half_width is None
    assert summary.why == "One run gives no spread."


def test_no_runs_are_refused() -> None:
    with pytest.raises(ValueError, match="at least one run"):
        summarize([])


def test_grubbs_finds_the_published_outlier() -> None:
    # e-Handbook: G = 2.4687, critical value 2.032 (5 %, one-sided).
    found = grubbs(MASS_SPECTROMETER, two_sided=False)
    assert found.statistic == pytest.approx(2.4687, abs=1e-4)
    assert found.critical == pytest.approx(2.032, abs=5e-4)
    assert found.index == 7 and found.stands_out


def test_grubbs_cannot_tell_from_three_values() -> None:
    # Largest possible G (n − 1)/√n = 1.1547; two-sided 5 % critical value 1.1543.
    assert grubbs([0.0, 0.0, 1.0]).statistic == pytest.approx(1.1547, abs=5e-5)
    assert grubbs([1.0, 2.0, 4.0]).critical == pytest.approx(1.1543, abs=5e-5)


def test_dixon_takes_the_larger_gap_over_the_range() -> None:
    found = dixon_q([10.0, 10.1, 10.2, 12.2])
    assert found.statistic == pytest.approx(2.0 / 2.2)
    assert found.index == 3 and found.critical == 0.829 and found.stands_out
    assert dixon_q([7.0, 10.1, 10.2]).index == 0


@pytest.mark.parametrize(
    ("n", "row"),
    [
        (3, (0.941, 0.970, 0.994)),
        (4, (0.765, 0.829, 0.926)),
        (5, (0.642, 0.710, 0.821)),
        (6, (0.560, 0.625, 0.740)),
        (7, (0.507, 0.568, 0.680)),
        (8, (0.468, 0.526, 0.634)),
        (9, (0.437, 0.493, 0.598)),
        (10, (0.412, 0.466, 0.568)),
    ],
)
def test_critical_q_are_those_of_the_table(n: int, row: tuple[float, float, float]) -> None:
    # Rorabacher, Anal. Chem. 63 (1991) 139, two-sided 90, 95, 99 %.
    assert DIXON_Q[n] == row
    values = [float(i) for i in range(n - 1)] + [100.0]
    assert [dixon_q(values, level).critical for level in (90, 95, 99)] == list(row)


@pytest.mark.parametrize("test", [grubbs, dixon_q])
@pytest.mark.parametrize("values", [[1.0, 2.0], [3.0, 3.0, 3.0]])
def test_outlier_tests_refuse_what_they_cannot_judge(test, values: list[float]) -> None:
    with pytest.raises(ValueError, match="the test needs"):
        test(values)


@pytest.mark.parametrize(("n", "factor"), [(2, 2.77), (3, 3.31), (4, 3.63), (5, 3.86)])
def test_critical_range_of_replicates(n: int, factor: float) -> None:
    # 95 % points of the studentized range with known s (idea of ISO 5725-6, from memory).
    assert critical_range(n, 2.0) == pytest.approx(2.0 * factor, abs=0.011)


@pytest.mark.parametrize("n", [2, 3, 6, 10, 15])
def test_critical_range_factors_are_those_of_the_normal_range(n: int) -> None:
    # scipy.stats as second package.
    point = stats.studentized_range.ppf(0.95, n, 1e6)
    assert range_factor(n) == pytest.approx(point, abs=1e-4)


def test_a_range_of_one_value_is_refused() -> None:
    with pytest.raises(ValueError, match="2 replicates or more"):
        critical_range(1, 1.0)


def test_replicates_that_disagree_are_named_with_their_span_and_limit() -> None:
    # Limit by hand: 3.31 (95 % point for three values) · 0.25 % = 0.83 %.
    note = replicate_notes([10000.0, 10020.0, 10140.0])[0]
    assert note.code == "replicates_disagree" and note.severity == "W"
    assert note.sentence == "Three values span 1.4 % (limit 0.83 %)."
    assert note.advice == "Run a fourth; do not drop one without a cause."


def test_replicates_within_the_critical_range_are_left_in_peace() -> None:
    assert replicate_notes([10000.0, 10020.0, 10080.0]) == []
    assert replicate_notes([-5150.0, -5152.0]) == []


def test_the_limit_of_replicates_is_a_setting() -> None:
    values = [10000.0, 10020.0, 10140.0]
    assert replicate_notes(values, Thresholds(repeatability_percent=0.5)) == []
    assert replicate_notes(values, repeatability_sd=50.0) == []
    assert replicate_notes(values[:2], repeatability_sd=5.0)[0].advice.startswith("Run a third")


def test_sound_replicates_are_named_no_oftener_than_one_time_in_twenty() -> None:
    # What a 95 % critical range means; 2,000 simulated sets of three.
    sets = np.random.default_rng(1).normal(10000.0, 25.0, (2000, 3))
    named = sum(bool(replicate_notes(list(values), repeatability_sd=25.0)) for values in sets)
    assert named / 2000 == pytest.approx(0.05, abs=0.015)


def test_one_run_only_blocks_the_interval() -> None:
    note = replicate_notes([10135.0])[0]
    assert (note.code, note.severity) == ("one_run_only", "B")
    assert note.sentence == "One run gives no spread."


def test_the_band_of_earlier_values_is_three_standard_deviations_wide() -> None:
    # By hand: mean 10, s = 1.
    assert drift.band([9.0, 10.0, 11.0]) == drift.Band(3, 10.0, 1.0, 7.0, 13.0)


def test_the_band_of_too_few_values_has_no_limits() -> None:
    assert drift.band([10.0]) == drift.Band(1, 10.0, None, None, None)
    assert drift.band([]) == drift.Band(0, None, None, None, None)

"""Scatter too small for an instrument or a bench, against scipy and the variance of rounding."""

from math import sqrt

import numpy as np
import pytest
from scipy import stats

from reduction.likeness.evenness import LineScatter, Replicates, close_replicates, even_lines
from reduction.thermogram import fit_line


def line(run: int, sd_mk: float, *, climbs_mk: float = 20.3, step_mk: float = 0.1, n: int = 31):
    return LineScatter(run, 1, "fore", sd_mk / 1000, n, climbs_mk / 1000, step_mk / 1000)


def test_rounding_leaves_its_step_over_the_root_of_twelve() -> None:
    # GUM (JCGM 100:2008), 4.3.7 and F.2.2.1: a resolution δ has u = δ/√12, about 0.29 δ.
    time = np.arange(0.0, 600.0, 5.0)
    rounded = np.round((22.0 + 3.7e-5 * time) / 0.001) * 0.001
    assert float(fit_line(time, rounded).residual_sd_k) == pytest.approx(0.29e-3, rel=0.05)


def test_a_line_far_more_even_than_its_bench_is_told() -> None:
    usual = [line(run, 0.4 + 0.02 * run) for run in range(12)]
    (found,) = even_lines([*usual, line(99, 0.03)])
    assert found.line.run == 99 and not found.is_rounding
    assert 0.4 < 1000 * found.usual_k < 0.55


def test_less_than_rounding_leaves_is_told_with_its_chance_by_chi_square() -> None:
    (found,) = even_lines([line(1, 0.05, climbs_mk=9.7, step_mk=1.0)])
    assert found.is_rounding
    ratio = (0.05 / (1 / sqrt(12))) ** 2
    # scipy.stats.chi2 with n − 2 degrees of freedom; two tests of one line.
    assert found.expected == pytest.approx(2 * stats.chi2.cdf(29 * ratio, 29), rel=1e-6)


def test_a_line_that_climbs_by_whole_steps_may_leave_nothing() -> None:
    assert even_lines([line(1, 0.0, climbs_mk=30.0, step_mk=1.0)]) == []


def test_a_coarse_thermometer_may_show_no_change_at_all() -> None:
    flat = [line(run, 0.0, climbs_mk=2.0, step_mk=10.0) for run in range(12)]
    assert even_lines(flat) == []


def replicates(number: int, values: tuple[float, ...], u: float = 12.0) -> Replicates:
    return Replicates(number, number, values, u, 25.0, 40.0)


def test_replicates_closer_than_budget_and_bench_allow_are_told() -> None:
    (found,) = close_replicates([replicates(1, (10_000.0, 10_000.1, 10_000.1))])
    assert found.usual_sd == 12.0 and found.sd == pytest.approx(0.0577, rel=1e-2)
    # scipy.stats.f with 2 and 20 degrees of freedom.
    ratio = (found.sd / 12.0) ** 2
    assert found.expected == pytest.approx(stats.f.cdf(ratio, 2, 20))


def test_a_careful_group_is_not() -> None:
    assert close_replicates([replicates(1, (10_000.0, 10_004.0, 10_009.0))]) == []
    # Two runs within 0.2 J/K happen once in a hundred times: common practice, by the same F.
    assert (
        close_replicates([replicates(1, (10_000.0, 10_000.3)), replicates(2, (9_990.0, 10_010.0))])
        == []
    )


def test_without_budget_and_past_nothing_is_known() -> None:
    assert close_replicates([Replicates(1, 1, (10_000.0, 10_000.0), 0.0, 0.0, 0.0)]) == []

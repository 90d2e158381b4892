"""Scatter learnt from several benches: by hand, and by simulation with a known truth."""

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import digamma, polygamma

from reduction.drift.pooling import (
    UNKNOWN,
    Scatter,
    pooled,
    scatter_about_mean,
    scatter_of_differences,
    shared,
)


def test_scatter_about_the_mean_by_hand() -> None:
    assert scatter_about_mean([9.0, 10.0, 11.0]) == Scatter(1.0, 2.0)
    assert scatter_about_mean([9.0]) == scatter_about_mean([]) == UNKNOWN


def test_scatter_of_differences_by_hand() -> None:
    # Differences 1, 3: s² = (1 + 9)/4; degrees 2·4/5.
    found = scatter_of_differences([1.0, 2.0, 5.0])
    assert found.sd == pytest.approx(2.5**0.5)
    assert found.degrees == pytest.approx(1.6)
    assert scatter_of_differences([1.0]) == UNKNOWN


@pytest.mark.parametrize("n", [4, 10, 25])
def test_degrees_of_differences_are_those_of_the_simulated_variance(n: int) -> None:
    # A variance with ν degrees has Var(s²)/σ⁴ = 2/ν; 40 000 normal series.
    rows = np.random.default_rng(n).standard_normal((40_000, n))
    variances = np.square(np.diff(rows)).mean(1) / 2.0
    assert variances.mean() == pytest.approx(1.0, abs=0.02)
    degrees = scatter_of_differences(rows[0]).degrees
    assert 2.0 / variances.var() == pytest.approx(degrees, rel=0.05)


def test_a_slow_drift_hardly_widens_the_scatter_of_differences() -> None:
    values = np.random.default_rng(3).standard_normal(200) + np.linspace(0.0, 20.0, 200)
    assert scatter_of_differences(values).sd == pytest.approx(1.0, abs=0.15)
    assert scatter_about_mean(values).sd > 5.0


def test_phases_of_one_bench_are_pooled_by_their_degrees() -> None:
    # By hand: (2·1 + 6·4)/8 = 3.25 with 8 degrees.
    found = pooled([Scatter(1.0, 2.0), Scatter(2.0, 6.0), UNKNOWN])
    assert (found.sd, found.degrees) == (pytest.approx(3.25**0.5), 8.0)
    assert pooled([]) == UNKNOWN


def test_benches_that_scatter_alike_are_simply_pooled() -> None:
    benches = [Scatter(sd, 7.0) for sd in (28.0, 31.0, 30.0, 29.0, 33.0)]
    assert shared(benches) == pooled(benches)


def test_one_bench_alone_stands_for_all() -> None:
    assert shared([Scatter(30.0, 7.0)]) == Scatter(30.0, 7.0)
    assert shared([]) == UNKNOWN


def test_benches_without_any_spread_say_nothing() -> None:
    assert shared([Scatter(0.0, 4.0), Scatter(30.0, 7.0), UNKNOWN]) == Scatter(30.0, 7.0)


def test_the_spread_between_benches_is_found_again() -> None:
    # Truth: variances of 4000 benches from s₀²·d₀/χ²(d₀), d₀ = 6 and s₀ = 30, 7 degrees each.
    rng = np.random.default_rng(11)
    variances = 30.0**2 * 6.0 / rng.chisquare(6.0, 4000)
    sds = np.sqrt(variances * rng.chisquare(7.0, 4000) / 7.0)
    found = shared([Scatter(float(sd), 7.0) for sd in sds])
    assert found.sd == pytest.approx(30.0, rel=0.03)
    assert found.degrees == pytest.approx(6.0, rel=0.1)


def test_differing_benches_share_what_the_published_equations_give() -> None:
    # The equations of Smyth (2004) solved by another root finder, and capped by 21 degrees.
    sds = np.array([20.0, 30.0, 60.0])
    logs = np.log(sds**2) - digamma(3.5) + np.log(3.5)
    excess = logs.var(ddof=1) - polygamma(1, 3.5)
    prior = brentq(lambda d: polygamma(1, d / 2.0) - excess, 0.1, 1000.0)
    variance = np.exp(logs.mean() + digamma(prior / 2.0) - np.log(prior / 2.0))
    found = shared([Scatter(sd, 7.0) for sd in sds.tolist()])
    assert found.sd == pytest.approx(variance**0.5)
    assert found.degrees == pytest.approx(1.0 / (1.0 / prior + 1.0 / 21.0))


def test_a_noisy_bench_costs_degrees_but_hardly_widens_the_scatter() -> None:
    alike = [Scatter(30.0, 7.0)] * 5
    found = shared([*alike, Scatter(90.0, 7.0)])
    assert found.degrees < 10.0
    assert found.sd < pooled([*alike, Scatter(90.0, 7.0)]).sd


def test_scatter_is_scaled_with_its_degrees_kept() -> None:
    assert Scatter(0.003, 12.0).scaled(10_000.0) == Scatter(30.0, 12.0)


@pytest.mark.parametrize("figures", [(-1.0, 2.0), (1.0, -2.0), (float("nan"), 2.0), (1.0, np.inf)])
def test_impossible_scatter_is_refused(figures: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="finite figures, neither below zero"):
        Scatter(*figures)

"""The heat-balance fit against simulated truth, also for releases it was not built from."""

import numpy as np
import pytest

from reduction import simulate
from reduction.heat_balance import (
    Curve,
    NoFitError,
    drift_shape,
    fit_heat_balance,
    release_response,
)


def fit(firing: simulate.Firing, **options: float) -> float:
    time_s, temperature_c = simulate.thermogram(firing)
    return fit_heat_balance(time_s - firing.fired_at_s, temperature_c, **options).rise_k


@pytest.mark.parametrize("leak", [-5e-5, 0.0, 5e-5, 2e-4])
@pytest.mark.parametrize("release", [(42.0,), (60.0, 15.0)])
@pytest.mark.parametrize("interval", [2.0, 15.0, 30.0])
def test_a_curve_without_noise_gives_its_rise_exactly(
    leak: float, release: tuple[float, ...], interval: float
) -> None:
    firing = simulate.Firing(
        leak_per_s=leak, release_s=release, cadence_s=interval, stirring_k_per_s=2e-6
    )
    assert fit(firing) == pytest.approx(2.5, rel=1e-6)


def test_it_needs_no_straight_after_period() -> None:
    cut = simulate.Firing(end_s=480.0, cadence_s=5.0, noise_k=0.0002, leak_per_s=5e-5)
    assert fit(cut) == pytest.approx(2.5, rel=2e-3)


def test_leak_and_time_constants_are_those_of_the_curve() -> None:
    firing = simulate.Firing(release_s=(30.0, 110.0), slow_share=0.2, leak_per_s=1e-4, end_s=1800.0)
    time_s, temperature_c = simulate.thermogram(firing)
    found = fit_heat_balance(time_s - 300.0, temperature_c)
    assert found.leak_per_s == pytest.approx(1e-4, rel=1e-4)
    assert sorted(found.release_s) == pytest.approx([30.0, 110.0], rel=1e-3)


def test_the_stated_uncertainty_is_that_of_repeated_firings() -> None:
    # Monte Carlo of the noise, 60 firings: standard deviation known to about 9 %.
    results = []
    for seed in range(60):
        firing = simulate.Firing(seed=seed, noise_k=0.002, cadence_s=5.0)
        time_s, temperature_c = simulate.thermogram(firing)
        results.append(fit_heat_balance(time_s - 300.0, temperature_c))
    spread = np.std([result.rise_k for result in results], ddof=1)
    assert np.mean([result.u_rise_k for result in results]) == pytest.approx(spread, rel=0.3)


def other_release(kind: str, since: np.ndarray) -> np.ndarray:
    """Shares released by `since` s after firing, of shapes that are no sum of exponentials."""
    s = np.maximum(since, 0.0)
    if kind == "even":
        return np.minimum(s / 90.0, 1.0)
    if kind == "bell":
        return 1.0 - np.exp(-((s / 60.0) ** 2))
    return 1.0 - (1.0 + s / 18.0 + (s / 18.0) ** 2 / 2.0) * np.exp(-s / 18.0)


@pytest.mark.parametrize("kind", ["even", "bell", "three in a row"])
@pytest.mark.parametrize("leak", [5e-5, 2e-4])
def test_a_release_of_another_shape_is_carried_over_to_the_rise(kind: str, leak: float) -> None:
    # Truth from a fine explicit sum of the heat balance, independent of the closed forms.
    fine = np.arange(0.0, 1500.0, 0.05)
    released = other_release(kind, fine - 300.0)
    kept = np.exp(-leak * 0.05)
    temperature = np.empty_like(fine)
    temperature[0] = 23.0
    for i in range(1, fine.size):
        previous = temperature[i - 1] + 2.5 * (released[i] - released[i - 1]) / 2.0
        temperature[i] = 25.4 + (previous - 25.4) * kept
        temperature[i] += 2.5 * (released[i] - released[i - 1]) / 2.0
    found = fit_heat_balance(fine[::100] - 300.0, temperature[::100], settled_s=400.0)
    assert found.rise_k == pytest.approx(2.5, rel=2e-4)


def test_the_derivatives_are_those_of_the_model() -> None:
    # Central differences, an independent way.
    time_s, temperature_c = simulate.thermogram(simulate.Firing())
    curve = Curve(time_s - 300.0, temperature_c - 23.0)
    unknowns = np.array([0.1, 8e-5, 3e-5, 1.5, np.log(30.0), 1.0, np.log(70.0)])
    for j, step in enumerate(1e-4 * np.abs(unknowns)):
        shift = np.zeros(7)
        shift[j] = step
        sum_of = curve.residuals(unknowns + shift) - curve.residuals(unknowns - shift)
        numeric = sum_of / (2 * step)
        exact = curve.jacobian(unknowns)[:, j]
        assert exact == pytest.approx(numeric, rel=1e-5, abs=1e-6 * np.abs(exact).max())


def test_no_leak_is_the_limit_of_a_small_one() -> None:
    time_s = np.linspace(-300.0, 900.0, 7)
    assert drift_shape(time_s, 0.0) == pytest.approx(drift_shape(time_s, 1e-12), rel=1e-9)
    assert release_response(np.array([-5.0, 0.0]), 1e-5, 40.0).tolist() == [0.0, 0.0]


@pytest.mark.parametrize(
    ("firing", "sentence"),
    [
        (simulate.Firing(rise_k=0.0, noise_k=0.001), "lost in the scatter"),
        (simulate.Firing(end_s=345.0), "8 readings"),
        (simulate.Firing(end_s=500.0, release_s=(300.0,)), "before the heat is released"),
    ],
)
def test_what_cannot_be_fitted_says_why(firing: simulate.Firing, sentence: str) -> None:
    with pytest.raises(NoFitError, match=sentence):
        fit(firing)

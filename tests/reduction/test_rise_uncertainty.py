"""How sure the rise is: against certified regressions, repeated firings and Monte Carlo."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from scipy.stats import chi2

from reduction import rise, simulate
from reduction.curve import CurveResult, reduce_curve
from reduction.line_rises import LINE_METHODS
from reduction.monte_carlo import sample_rises, summarize
from reduction.notes import Thresholds
from reduction.periods import find_periods
from reduction.remarks.certainty import alike_note, line_bias_note, line_biases
from reduction.rise_uncertainty import (
    HARMONICS,
    Noise,
    Weights,
    difference_weights,
    reading_noise,
    rounding_variance,
)
from reduction.thermogram import Line, Periods, Rated, Thermogram, fit_line, rate

from .test_thermogram import NORRIS

ORDINARY = simulate.Firing(noise_k=0.001, resolution_k=0.001, cadence_s=5.0, seed=3)
LEAKY = simulate.Firing(noise_k=0.002, cadence_s=10.0, leak_per_s=2e-4, seed=4)
SPARSE = simulate.Firing(noise_k=0.01, resolution_k=0.01, cadence_s=30.0, seed=5)


def reduced(
    firing: simulate.Firing, settled_at_s: float | None = 800.0
) -> tuple[Thermogram, Periods, CurveResult]:
    thermogram = Thermogram.of(*simulate.thermogram(firing))
    periods = find_periods(thermogram, 300.0, settled_at_s)
    return thermogram, periods, reduce_curve(thermogram, periods)


def u_of(curve: CurveResult, method: str) -> float:
    u_k = curve.rise[method]["u_k"]
    assert isinstance(u_k, float)
    return u_k


WEIGHTED: dict[str, Callable[[Rated], tuple[Any, Weights]]] = {
    "fraction": lambda rated: (rise.fraction(rated).rise_k, rise.fraction(rated).weights),
    "fraction_by_hand": lambda rated: (
        rise.fraction_by_hand(rated).rise_k,
        rise.fraction_by_hand(rated).weights,
    ),
    "equal_areas": lambda rated: (rise.equal_areas(rated).rise_k, rise.equal_areas(rated).weights),
    "regnault_pfaundler": lambda rated: (
        rise.regnault_pfaundler(rated),
        rise.regnault_pfaundler_weights(rated),
    ),
    "difference": lambda rated: (
        rise.difference(rated),
        difference_weights(rated.fore, rated.after, rated.settled_s),
    ),
}


@pytest.mark.parametrize("method", WEIGHTED)
@pytest.mark.parametrize("part", ["fore_mean", "fore_slope_s", "after_mean", "after_slope_s"])
def test_a_rise_moves_with_each_line_as_its_weights_say(method: str, part: str) -> None:
    # The readings of one rating period are shifted or tilted a little, and the method run again.
    time_s, temperature_c = simulate.thermogram(simulate.Firing(leak_per_s=2e-4, cadence_s=1.0))
    bounds = (0.0, 300.0, 800.0, 1200.0)
    before, weights = WEIGHTED[method](rate(time_s, temperature_c, *bounds))
    own = time_s <= 300.0 if part.startswith("fore") else time_s >= 800.0
    tilted = np.where(own, time_s - time_s[own].mean(), 0.0)
    step = 1e-5 * (tilted / 100.0 if "slope" in part else own)
    after, _ = WEIGHTED[method](rate(time_s, temperature_c + step, *bounds))
    size = 1e-7 if "slope" in part else 1e-5
    expected = getattr(weights, part) * size
    assert after - before == pytest.approx(expected, abs=3e-8)


def test_a_line_is_as_sure_as_certified() -> None:
    # NIST StRD Norris, certified: residual sd 0.884796396144373, standard deviation of the slope
    # 0.429796848199937E-03 and of the intercept 0.232818234301152.
    y, x = np.loadtxt(NORRIS, skiprows=60, unpack=True)
    line = fit_line(x, y)
    assert line.residual_sd_k == pytest.approx(0.884796396144373, rel=1e-10)
    assert line.residual_sd_k / np.sqrt(line.spread_s2) == pytest.approx(4.29796848199937e-4)
    at_zero = line.residual_sd_k * np.sqrt(1.0 / line.count + line.mean_s**2 / line.spread_s2)
    assert at_zero == pytest.approx(0.232818234301152)


@pytest.mark.parametrize("firing", [ORDINARY, LEAKY, SPARSE], ids=["ordinary", "leaky", "sparse"])
@pytest.mark.parametrize("method", LINE_METHODS)
def test_it_agrees_with_monte_carlo_within_3_percent(firing: simulate.Firing, method: str) -> None:
    # JCGM 101: the readings are drawn anew and the method itself is run, 6,000 times.
    thermogram, periods, curve = reduced(firing)
    random = np.random.default_rng(1)
    found = summarize(sample_rises(thermogram, periods, curve, method, 6000, random))
    error = found.u_error / found.u
    assert error < 0.011
    assert u_of(curve, method) / found.u == pytest.approx(1.0, abs=0.03 + 2.0 * error)


def test_the_heat_balance_fit_agrees_with_monte_carlo() -> None:
    thermogram, periods, curve = reduced(ORDINARY)
    random = np.random.default_rng(2)
    found = summarize(sample_rises(thermogram, periods, curve, "heat_balance", 300, random))
    error = found.u_error / found.u
    expected = pytest.approx(1.0, abs=0.03 + 2.0 * error)
    assert u_of(curve, "heat_balance") / found.u == expected


def test_it_is_the_spread_of_repeated_firings() -> None:
    # 300 firings: their standard deviation is known to about 4 %.
    curves = [reduced(simulate.Firing(noise_k=0.002, seed=seed))[2] for seed in range(300)]
    for method in ("fraction", "equal_areas", "regnault_pfaundler"):
        spread = np.std([curve.rise[method]["rise_k"] for curve in curves], ddof=1)
        stated = np.sqrt(np.mean([u_of(curve, method) ** 2 for curve in curves]))
        assert stated == pytest.approx(spread, rel=0.12)


def test_degrees_of_freedom_are_those_of_both_lines() -> None:
    curve = reduced(simulate.Firing(noise_k=0.002, seed=2))[2]
    assert curve.rated is not None and curve.noise is not None and curve.noise.lag_one == 0
    readings = curve.rated.fore.count + curve.rated.after.count
    assert curve.rise["difference"]["dof"] == pytest.approx(readings - 4)


def test_equal_readings_are_no_surer_than_their_rounding() -> None:
    # A rounded constant each, q/√12; the sway of a line within one step comes on top.
    firing = simulate.Firing(leak_per_s=0.0, resolution_k=0.1, cadence_s=15.0)
    curve = reduced(firing)[2]
    least = 0.1 * np.sqrt(2.0 / 12.0)
    assert least <= u_of(curve, "regnault_pfaundler") <= 3.0 * least
    assert curve.rise["regnault_pfaundler"]["dof"] is None


@pytest.mark.parametrize("drift_steps", [2.3, 3.7, 5.2])
def test_rounding_of_a_drift_is_that_of_a_rounded_line_of_any_phase(drift_steps: float) -> None:
    # By brute force: 400 phases of an exactly rounded line, read off 0.3 lengths behind its end.
    time_s = np.linspace(-1.0, 0.0, 201) * np.ones((400, 1))
    true_c = np.linspace(0.0, 1.0, 400, endpoint=False)[:, None] + drift_steps * time_s
    line = fit_line(time_s, np.round(true_c))
    errors = line.at(0.3) - (true_c[:, -1] + 0.3 * drift_steps)
    noise = Noise(*(np.zeros(400) for _ in range(4)), np.ones(400))
    variance = rounding_variance(line, np.ones(400), 0.3 - line.mean_s, noise)
    assert np.sqrt(variance.mean()) == pytest.approx(np.sqrt(np.mean(errors**2)), rel=0.15)


def test_the_sum_over_harmonics_is_nearly_the_variance_of_rounding() -> None:
    assert np.sum(1.0 / (2.0 * np.pi**2 * HARMONICS**2)) == pytest.approx(1.0 / 12.0, rel=0.06)


def wandering(seed: int, rho: float) -> Thermogram:
    """A firing whose readings err alike: AR(1) noise of 2 mK."""
    time_s, temperature_c = simulate.thermogram(simulate.Firing(cadence_s=5.0))
    random = np.random.default_rng(seed)
    errors = np.empty(time_s.size)
    errors[0] = random.normal()
    for i in range(1, time_s.size):
        errors[i] = rho * errors[i - 1] + np.sqrt(1.0 - rho**2) * random.normal()
    return Thermogram.of(time_s, temperature_c + 0.002 * errors)


def test_readings_that_err_alike_widen_it_as_far_as_they_should() -> None:
    bounds = Periods(0.0, 300.0, 800.0, 1200.0)
    curves = [reduce_curve(wandering(seed, 0.6), bounds) for seed in range(200)]
    spread = np.std([curve.rise["regnault_pfaundler"]["rise_k"] for curve in curves], ddof=1)
    stated = np.sqrt(np.mean([u_of(curve, "regnault_pfaundler") ** 2 for curve in curves]))
    assert stated == pytest.approx(spread, rel=0.2)
    note = alike_note(curves[0])
    assert note is not None and note.severity == "N" and "widened" in note.sentence


def test_independent_readings_are_rarely_taken_to_err_alike() -> None:
    bounds = Periods(0.0, 300.0, 800.0, 1200.0)
    curves = [reduce_curve(wandering(seed, 0.0), bounds) for seed in range(200)]
    assert np.mean([alike_note(curve) is not None for curve in curves]) < 0.08


def test_the_noise_of_a_reading_is_pooled_over_both_lines() -> None:
    # Pooled variance lies inside its χ² interval, 99.9 %, for noise of 2 mK.
    curve = reduced(simulate.Firing(noise_k=0.002, cadence_s=2.0, seed=8))[2]
    assert curve.noise is not None
    free, variance = float(curve.noise.dof), float(curve.noise.sd_k) ** 2
    low, high = chi2.ppf([0.0005, 0.9995], free) / free
    assert low <= variance / 0.002**2 <= high


def test_without_readings_to_spare_there_is_no_uncertainty() -> None:
    line = Line(*(np.array(x) for x in (0.0, 0.0, 20.0, 2.0, np.nan, 50.0, 0.0, 0.0)))
    assert np.isnan(reading_noise(line, line, 0.01).sd_k)


def test_no_rise_has_no_uncertainty() -> None:
    curve = reduced(simulate.Firing(end_s=470.0, cadence_s=5.0), None)[2]
    assert curve.rise["fraction"]["u_k"] is None and curve.rise["fraction"]["dof"] is None


@pytest.mark.parametrize(("leak", "percent"), [(1e-4, -0.3), (2e-4, -1.0)])
def test_straight_lines_say_by_how_much_a_leak_puts_them_off(leak: float, percent: float) -> None:
    # Known truth by simulation, jacket 2.5 K below the warm water; 0.3 and 1 % at these leaks.
    firing = simulate.Firing(leak_per_s=leak, convergence_c=22.5, cadence_s=10.0, noise_k=0.0005)
    curve = reduced(simulate.Firing(**vars(firing) | {"end_s": 1500.0}), None)[2]
    for method, bias in line_biases(curve).items():
        rise_k = curve.rise[method]["rise_k"]
        assert isinstance(rise_k, float)
        assert bias == pytest.approx(rise_k - 2.5, abs=0.0015)
    note = line_bias_note(curve, Thresholds(), "fraction")
    assert note is not None and note.severity == "W"
    assert 100.0 * line_biases(curve)["fraction"] / 2.5 == pytest.approx(percent, rel=0.15)
    assert "fraction of the rise by −" in note.sentence and "equal areas by −" in note.sentence


@pytest.mark.parametrize(
    "changes",
    [{"leak_per_s": 2e-5}, {"leak_per_s": 1e-4, "noise_k": 0.05}, {"leak_per_s": 0.0}],
)
def test_straight_lines_keep_quiet_where_the_leak_does_no_harm(changes: dict[str, Any]) -> None:
    firing = simulate.Firing(**{"noise_k": 0.0005, "cadence_s": 15.0, "seed": 1, **changes})
    assert line_bias_note(reduced(firing, None)[2], Thresholds()) is None

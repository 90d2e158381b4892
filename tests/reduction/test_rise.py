"""The corrected rise against printed readings, an exact curve, and simulated firings."""

import numpy as np
import pytest

from reduction import rise, simulate
from reduction.table import read_table
from reduction.thermogram import Rated, rate

from .conftest import FIXTURES

# Curve of true rise 2.5 K: convergence temperature 25.40 °C, leak 0.0020 min⁻¹, start 23.000 °C,
# firing at 5 min, release 0.70 min, readings every 15 s for 20 min. Bounds worked out from it.
EXACT = simulate.Firing()


def rated(firing: simulate.Firing, settled_at_s: float) -> Rated:
    time_s, temperature_c = simulate.thermogram(firing)
    return rate(time_s, temperature_c, time_s[0], firing.fired_at_s, settled_at_s, time_s[-1])


def steam(settled_at_s: float, after_until_s: float) -> Rated:
    """Real readings. Source: Steam: Its Generation and Use, 35th ed., pp. 186-188, Fig. 25."""
    time_s, temperature_c = read_table(FIXTURES / "reference/steam_calorimeter_readings.csv")
    bounds = (0.0, 120.0, settled_at_s, after_until_s)
    return rate(np.array(time_s), np.array(temperature_c), *bounds)


def test_printed_readings_give_the_printed_rise_by_regnault_pfaundler() -> None:
    # Steam, p. 188: 2.57 °C and a correction of 0.048 to 0.05 °C, 2.62 ± 0.005 °C.
    assert rise.regnault_pfaundler(steam(270.0, 480.0)) == pytest.approx(2.62, abs=0.005)
    assert rise.regnault_pfaundler(steam(300.0, 450.0)) == pytest.approx(2.62, abs=0.005)


def test_printed_readings_give_2_616_by_the_rule_of_0_60() -> None:
    # Worked out by hand from the same page with its rate of 0.02 °C a minute:
    # 22.88 − 20.29 + 0.02·(c − b) at 0.60 of the rise.
    assert rise.fraction(steam(270.0, 480.0), 0.60).rise_k == pytest.approx(2.616, abs=0.001)


def test_the_exact_curve_gives_its_rise_by_regnault_pfaundler() -> None:
    assert 2.4998 <= rise.regnault_pfaundler(rated(EXACT, 780.0)) <= 2.5000


def test_the_exact_curve_gives_its_rise_at_both_fractions() -> None:
    curve = rated(EXACT, 780.0)
    assert 2.5000 <= round(float(rise.fraction(curve, 0.60).rise_k), 4) <= 2.5002
    assert 2.4997 <= round(float(rise.fraction(curve).rise_k), 4) <= 2.4999


def test_ending_the_main_period_early_biases_regnault_pfaundler_down() -> None:
    # With the end temperature read off the curve the exact curve gives 2.4975 to 2.4977; the
    # after line, which lies above the reading there, takes back part of that.
    time_s, temperature_c = simulate.thermogram(EXACT)
    curve = rated(EXACT, 600.0)
    found = rise.regnault_pfaundler(curve)
    end_reading = temperature_c[time_s == 600.0][0]
    assert found < 2.4995
    assert 2.4975 <= found + end_reading - curve.after.at(300.0) <= 2.4977


@pytest.mark.parametrize("interval", [1.0, 5.0, 15.0, 30.0, 60.0])
def test_equal_areas_balance_at_the_time_constant_whatever_the_interval(interval: float) -> None:
    # For an exponential rise without drift the equal-area time is the time constant (calculus);
    # the fraction reached there is 1 − 1/e.
    firing = simulate.Firing(
        leak_per_s=0.0, release_s=(42.0,), cadence_s=interval, end_s=2400.0, rise_k=2.5
    )
    found = rise.equal_areas(rated(firing, 1800.0))
    assert found.at_s == pytest.approx(42.0, abs=1e-6)
    assert found.rise_k == pytest.approx(2.5, abs=1e-9)
    assert rise.fraction(rated(firing, 1800.0)).at_s == pytest.approx(42.0, abs=1e-6)


@pytest.mark.parametrize("leak", [-5e-5, -2e-5, 0.0, 2e-5, 5e-5])
@pytest.mark.parametrize("convergence", [22.0, 25.0, 28.0])
@pytest.mark.parametrize("release", [(42.0,), (60.0, 15.0)])
def test_regnault_pfaundler_is_within_2_in_10000_of_the_truth_for_weak_leaks(
    leak: float, convergence: float, release: tuple[float, ...]
) -> None:
    firing = simulate.Firing(
        leak_per_s=leak,
        convergence_c=convergence,
        stirring_k_per_s=2e-6,
        release_s=release,
        cadence_s=10.0,
        end_s=1400.0,
    )
    found = rise.regnault_pfaundler(rated(firing, 950.0))
    assert found == pytest.approx(2.5, rel=2e-4)


def test_the_ruler_agrees_with_the_self_consistent_crossing_to_a_millikelvin() -> None:
    # Common practice, no source: one pass is good enough on ordinary curves.
    curve = rated(simulate.Firing(cadence_s=10.0, release_s=(50.0, 12.0)), 800.0)
    by_hand, exact = rise.fraction_by_hand(curve), rise.fraction(curve, 0.63)
    assert by_hand.rise_k == pytest.approx(float(exact.rise_k), abs=1e-3)


def test_equal_areas_and_regnault_pfaundler_agree_when_the_drift_is_linear() -> None:
    curve = rated(simulate.Firing(leak_per_s=4e-5, cadence_s=5.0), 800.0)
    areas, integral = rise.equal_areas(curve).rise_k, rise.regnault_pfaundler(curve)
    assert areas == pytest.approx(float(integral), abs=2e-4)


def test_the_areas_on_both_sides_of_the_crossing_are_equal() -> None:
    # Checked by summing a dense, noise-free curve with numpy's trapezoid.
    firing = simulate.Firing(cadence_s=0.1, release_s=(40.0, 10.0), leak_per_s=3e-4)
    curve = rated(firing, 800.0)
    at_s = float(rise.equal_areas(curve).at_s)
    before, after = np.linspace(0.0, at_s, 5001), np.linspace(at_s, 500.0, 5001)
    left = np.interp(before, curve.curve_s, curve.curve_c) - curve.fore.at(before)
    right = curve.after.at(after) - np.interp(after, curve.curve_s, curve.curve_c)
    assert np.trapezoid(left, before) == pytest.approx(np.trapezoid(right, after), rel=1e-5)


def test_the_ruler_takes_the_distance_of_the_lines_at_the_middle_of_the_main_period() -> None:
    # As drawn: R at the middle, then the first point of the curve 0.63 R above the fore line.
    curve = rated(simulate.Firing(cadence_s=5.0, leak_per_s=3e-4), 800.0)
    between = curve.after.at(250.0) - curve.fore.at(250.0)
    above = curve.curve_c - curve.fore.over(curve.curve_s)
    main = (curve.curve_s > 0.0) & (curve.curve_s < 100.0)
    drawn = np.interp(0.63 * between, above[main], curve.curve_s[main])
    assert rise.fraction_by_hand(curve).at_s == pytest.approx(drawn, rel=1e-9)


@pytest.mark.parametrize("last_digit", [-4e-15, 0.0, 4e-15])
def test_a_reading_on_the_after_line_moves_nothing_by_its_last_digit(last_digit: float) -> None:
    # An exponential between distances a and b has the mean (a − b)/ln(a/b), which falls to 0 with
    # b; a b of mere rounding must not count as having decayed so far. By hand: chords alone.
    time_s = np.arange(0.0, 1000.0, 100.0)
    temperature_c = np.where(time_s <= 300.0, 20.0, 22.0)
    temperature_c[4] += last_digit
    curve = rate(time_s, temperature_c, 0.0, 300.0, 600.0, 900.0)
    assert rise.equal_areas(curve).at_s == pytest.approx(50.0, rel=1e-9)


def test_the_plain_difference_is_the_rise_in_an_adiabatic_jacket() -> None:
    adiabatic = simulate.Firing(leak_per_s=0.0)
    assert rise.difference(rated(adiabatic, 900.0)) == pytest.approx(2.5, abs=1e-5)


def test_a_falling_curve_gives_a_fall_by_every_method() -> None:
    falling = rated(simulate.Firing(rise_k=-0.5), 780.0)
    for method in (rise.fraction, rise.fraction_by_hand, rise.equal_areas):
        assert method(falling).rise_k == pytest.approx(-0.5, abs=1e-3)
    assert rise.regnault_pfaundler(falling) == pytest.approx(-0.5, abs=1e-3)


def test_a_curve_that_stays_on_the_fore_line_has_no_crossing() -> None:
    time_s = np.arange(0.0, 1201.0, 15.0)
    flat = rate(time_s, np.full_like(time_s, 23.0), 0.0, 300.0, 780.0, 1200.0)
    assert np.isnan(rise.fraction(flat).rise_k) and np.isnan(rise.equal_areas(flat).rise_k)
    assert np.isnan(rise.regnault_pfaundler(flat))


def test_a_batch_gives_what_each_run_gives() -> None:
    firings = [simulate.Firing(seed=i, noise_k=0.002, rise_k=2.0 + 0.1 * i) for i in range(5)]
    curves = [simulate.thermogram(firing) for firing in firings]
    time_s, temperature_c = (np.stack(part) for part in zip(*curves, strict=True))
    settled = np.array([700.0, 720.0, 750.0, 780.0, 800.0])
    ones = np.ones(5)
    batch = rate(time_s, temperature_c, 0.0 * ones, 300.0 * ones, settled, 1200.0 * ones)
    for i, (t, temperature) in enumerate(curves):
        one = rate(t, temperature, 0.0, 300.0, settled[i], 1200.0)
        assert rise.regnault_pfaundler(batch)[i] == pytest.approx(rise.regnault_pfaundler(one))
        assert rise.equal_areas(batch).rise_k[i] == pytest.approx(rise.equal_areas(one).rise_k)
        assert rise.fraction(batch).at_s[i] == pytest.approx(rise.fraction(one).at_s)
        assert rise.fraction_by_hand(batch).at_s[i] == pytest.approx(
            rise.fraction_by_hand(one).at_s
        )

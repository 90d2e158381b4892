"""Readings in order, and the lines through the rating periods."""

from pathlib import Path

import numpy as np
import pytest
import scipy.stats

from reduction import ReductionError
from reduction.thermogram import Thermogram, fit_line

NORRIS = Path(scipy.stats.__file__).parent / "tests/data/nist_linregress/Norris.dat"


def test_the_line_fit_gives_the_certified_values_of_the_norris_data() -> None:
    # NIST Statistical Reference Datasets, Norris, in scipy's own test files: intercept
    # −0.262323073774029, slope 1.00211681802045, residual standard deviation 0.884796396144373.
    y, x = np.loadtxt(NORRIS, skiprows=60, unpack=True)
    line = fit_line(x, y, np.ones(x.size, dtype=bool))
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-12)
    assert line.at(0.0) == pytest.approx(-0.262323073774029, rel=1e-11)
    assert line.residual_sd_k == pytest.approx(0.884796396144373, rel=1e-12)


def test_a_late_clock_costs_the_line_no_digits() -> None:
    time_s = np.arange(20.0)
    temperature_c = 23.0 + 1e-5 * time_s
    chosen = np.ones(20, dtype=bool)
    here = fit_line(time_s, temperature_c, chosen).slope
    there = fit_line(time_s + 1.7e9, temperature_c, chosen).slope
    assert there == pytest.approx(float(here), rel=1e-9)


def test_one_time_only_gives_no_slope() -> None:
    line = fit_line(np.full(3, 5.0), np.array([1.0, 2.0, 3.0]), np.ones(3, dtype=bool))
    assert np.isnan(line.slope) and line.mean_c == 2.0


def test_readings_are_sorted_by_time_and_equal_times_keep_their_order() -> None:
    time_s = [30, *[10] * 50, -10, *[20] * 50]
    thermogram = Thermogram.of(time_s, [5.0, *range(50), 1.0, *range(50)])
    assert thermogram.time_s.tolist() == [-10, *[10] * 50, *[20] * 50, 30]
    assert thermogram.temperature_c.tolist() == [1.0, *range(50), *range(50), 5.0]


def test_blank_slots_are_left_out() -> None:
    nan = float("nan")
    assert Thermogram.of([0, 1, 2, 3, 4], [1.0, nan, 3.0, 4.0, 5.0]).time_s.size == 4


@pytest.mark.parametrize("temperature", [[float("nan")] * 5, [20.0, 20.0, float("inf")]])
def test_too_few_usable_readings_are_refused(temperature: list[float]) -> None:
    with pytest.raises(ReductionError, match="usable readings"):
        Thermogram.of(range(len(temperature)), temperature)


def test_what_no_bucket_reads_is_refused() -> None:
    with pytest.raises(ReductionError, match="Check units"):
        Thermogram.of([0, 1, 2, 3], [1e300, 20.0, 20.0, 20.0])


def test_resolution_is_the_smallest_step_between_readings() -> None:
    thermogram = Thermogram.of(range(6), [20.3, 20.3, 20.4, 20.6, 22.1, 22.2])
    assert thermogram.resolution_k == pytest.approx(0.1)


def test_noise_is_the_scatter_about_the_neighbours() -> None:
    rng = np.random.default_rng(1)
    time_s = np.sort(rng.uniform(0.0, 1000.0, 4000))
    thermogram = Thermogram.of(time_s, 20.0 + 1e-4 * time_s + rng.normal(0.0, 0.002, 4000))
    assert thermogram.noise_k == pytest.approx(0.002, rel=0.05)

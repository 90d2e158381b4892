"""Series that are one: found however they were shifted, and honest ones left alone."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from reduction.likeness.series import Series, _log_chance, alike_series, correlation_at
from reduction.simulate import Firing, thermogram

STEP_K = 0.001


def run(number: int, seed: int, *, step_k: float = STEP_K, noise_seed: int | None = None) -> Series:
    rng = np.random.default_rng(seed)
    firing = Firing(
        rise_k=rng.uniform(2.4, 2.7),
        start_c=rng.uniform(22.0, 24.6),
        convergence_c=rng.uniform(22.0, 27.0),
        release_s=(rng.uniform(38.0, 50.0),),
        cadence_s=10.0,
        noise_k=0.0006,
        resolution_k=step_k,
        seed=seed if noise_seed is None else noise_seed,
    )
    return Series(number, *thermogram(firing), step_k)


TERM = [run(number, number) for number in range(30)]


def changed(one: Series, **changes: np.ndarray) -> Series:
    return replace(one, run=99, **changes)


def test_an_honest_term_has_no_series_alike() -> None:
    assert alike_series(TERM) == []


@pytest.mark.parametrize("step_k", [0.0001, 0.001])
def test_honest_runs_of_one_curve_are_not_alike(step_k: float) -> None:
    """The same firing twice: only the noise differs, and with it the last digits."""
    twice = [run(number, 7, step_k=step_k, noise_seed=number) for number in (98, 99)]
    others = [run(number, number, step_k=step_k) for number in range(20)]
    assert alike_series([*others, *twice]) == []


def test_an_exact_copy_is_found_where_it_lies() -> None:
    (found,) = alike_series([*TERM, changed(TERM[4])])
    assert found.runs == (4, 99) and (found.shift, found.share) == (0, 1.0)
    assert found.correlation == pytest.approx(1.0) and found.offset_k == 0.0
    assert found.expected < 1e-9


def test_a_copy_that_starts_later_and_warmer_is_laid_back() -> None:
    copy = changed(
        TERM[4],
        time_s=TERM[4].time_s[5:] - TERM[4].time_s[5],
        temperature_c=np.round(TERM[4].temperature_c[5:] + 0.037, 3),
    )
    (found,) = alike_series([*TERM, copy])
    assert found.shift == 5 and found.offset_k == pytest.approx(0.037)
    assert found.share == 1.0


def test_a_copy_with_every_tenth_reading_altered_is_found() -> None:
    altered = TERM[4].temperature_c.copy()
    altered[::10] += 0.004
    (found,) = alike_series([*TERM, changed(TERM[4], temperature_c=altered)])
    assert found.runs == (4, 99) and 0.7 < found.share < 0.95


def test_noise_put_on_a_copy_leaves_its_scatter() -> None:
    noise = np.random.default_rng(5).normal(0.0, 0.0005, TERM[4].time_s.size)
    copy = changed(TERM[4], temperature_c=np.round(TERM[4].temperature_c + noise, 3))
    (found,) = alike_series([*TERM, copy])
    assert found.runs == (4, 99) and found.shift == 0
    assert found.correlation is not None and found.correlation > 0.5
    assert found.share < 0.5


def test_a_copy_on_a_coarse_thermometer_is_found() -> None:
    coarse = [run(number, number, step_k=0.01) for number in range(12)]
    (found,) = alike_series([*coarse, changed(coarse[2])])
    assert found.runs == (2, 99) and found.correlation is None


def test_the_chance_of_a_correlation_is_that_of_fishers_z() -> None:
    # scipy.stats.norm with atanh(r)·√(n − 3), n = 60 readings that tell as much as 40.
    r, count = np.array([[0.5]]), np.array([[60.0]])
    ones = np.ones_like(r)
    expected = stats.norm.logsf(np.arctanh(0.5) * np.sqrt(60 / 1.5 - 3))
    assert _log_chance(r, ones, ones, count)[0, 0] == pytest.approx(expected)


def test_scatter_is_noise_alone() -> None:
    one = TERM[3]
    quiet = one.scatter[(one.time_s > 30) & (one.time_s < 250)]
    assert np.std(quiet) == pytest.approx(1.0, abs=0.35)
    assert np.all(one.scatter[(one.time_s > 310) & (one.time_s < 400)] == 0.0)
    assert correlation_at(one, one, 0) == pytest.approx(1.0)


def test_short_and_stuck_series_say_nothing() -> None:
    short = [
        replace(one, time_s=one.time_s[:15], temperature_c=one.temperature_c[:15]) for one in TERM
    ]
    assert alike_series(short) == []
    stuck = [replace(one, temperature_c=np.full_like(one.temperature_c, 22.0)) for one in TERM[:4]]
    assert alike_series(stuck) == [] and alike_series([]) == []

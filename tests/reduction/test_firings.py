"""One firing is never taken for two, and two in one record are told apart; truth is simulated."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reduction import simulate
from reduction.firings import Stretch, find_firings
from reduction.notes import Thresholds
from reduction.thermogram import Array, Thermogram

LIMITS = Thresholds()
QUICK = settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
CADENCES: tuple[Any, ...] = (
    1.0,
    5.0,
    15.0,
    30.0,
    60.0,
    ((60.0, 300.0), (15.0, 700.0), (60.0, 1800.0)),
)
RELEASES = ((30.0,), (42.0,), (70.0,), (120.0,), (60.0, 15.0))


@st.composite
def firings(draw: st.DrawFn) -> simulate.Firing:
    rise = draw(st.floats(0.8, 4.0))
    return simulate.Firing(
        rise_k=rise,
        start_c=draw(st.floats(20.0, 24.0)),
        convergence_c=draw(st.floats(22.0, 28.0)),
        leak_per_s=draw(st.floats(0.0, 2e-4)),
        stirring_k_per_s=draw(st.floats(0.0, 2e-5)),
        release_s=draw(st.sampled_from(RELEASES)),
        cadence_s=draw(st.sampled_from(CADENCES)),
        noise_k=draw(st.sampled_from((0.0, 0.0005, 0.002, 0.005, 0.02))),
        resolution_k=draw(st.sampled_from((0.0, 0.001, 0.01, 0.02, 0.1))),
        end_s=draw(st.sampled_from((900.0, 1500.0, 3000.0))),
        seed=draw(st.integers(0, 2**20)),
    )


def found_in(time_s: Array, temperature_c: Array) -> tuple[Stretch, ...]:
    return find_firings(Thermogram.of(time_s, temperature_c), LIMITS)


@given(firings())
@QUICK
def test_one_firing_is_never_taken_for_two(firing: simulate.Firing) -> None:
    assert found_in(*simulate.thermogram(firing)) == ()


@given(firings(), st.sampled_from((20.0, 60.0, 90.0)))
@QUICK
def test_a_stirrer_that_stands_still_now_and_then_makes_no_second_firing(
    firing: simulate.Firing, rests_s: float
) -> None:
    time = simulate.reading_times(firing)
    mixed = np.where(time > 300.0, np.floor(time / rests_s) * rests_s, time)
    assert found_in(time, simulate.true_temperature(firing, mixed)) == ()


@given(firings(), st.floats(30.0, 1500.0))
@QUICK
def test_a_logger_that_paused_makes_no_second_firing(
    firing: simulate.Firing, paused_s: float
) -> None:
    time, temperature = simulate.thermogram(dataclasses.replace(firing, end_s=3000.0))
    kept = (time < 200.0) | (time > 200.0 + paused_s)
    assert found_in(time[kept], temperature[kept]) == ()


@given(firings(), st.integers(0, 40), st.sampled_from((-10.0, -1.0, 1.0, 10.0)))
@QUICK
def test_a_slip_makes_no_second_firing(firing: simulate.Firing, at: int, off_k: float) -> None:
    time, temperature = simulate.thermogram(firing)
    temperature[min(at, time.size - 1)] += off_k
    assert found_in(time, temperature) == ()


def two_runs(
    first: simulate.Firing, second: simulate.Firing, apart_s: float
) -> tuple[Array, Array]:
    """A logger left on: between the runs the thermometer hangs in air, then in new water."""
    times, temperatures = simulate.thermogram(first)
    interval = float(np.diff(times).max())
    air = np.arange(times[-1] + interval, times[-1] + apart_s, interval)
    later, warm = simulate.thermogram(second)
    shift = air[-1] + interval - later[0]
    in_air = 18.0 + (temperatures[-1] - 18.0) * np.exp(-(air - air[0] + interval) / 60.0)
    return (
        np.concatenate([times, air, later + shift]),
        np.concatenate([temperatures, in_air, warm]),
    )


@given(
    first=firings(),
    second=firings(),
    apart_s=st.floats(240.0, 1800.0),
)
@QUICK
def test_two_firings_are_both_found_each_within_its_own_readings(
    first: simulate.Firing, second: simulate.Firing, apart_s: float
) -> None:
    one_logger = {
        "cadence_s": 15.0,
        "end_s": 1500.0,
        "rise_k": max(first.rise_k, second.rise_k),
        "resolution_k": min(first.resolution_k, 0.02),
        "noise_k": first.noise_k,
    }
    first = dataclasses.replace(first, **one_logger)
    second = dataclasses.replace(second, **one_logger)
    time, temperature = two_runs(first, second, apart_s)
    truth = (300.0, float(time[-1]) - 1200.0)
    found = found_in(time, temperature)
    near = [s for s in found if min(abs(s.fired_at_s - t) for t in truth) <= 45.0]
    assert len(near) == 2
    for stretch, fired in zip(near, truth, strict=True):
        assert stretch.from_s <= fired - 60.0 and stretch.until_s >= fired + 600.0
    assert near[0].until_s <= near[1].from_s


@pytest.mark.parametrize("cadence_s", [1.0, 5.0, 15.0])
def test_a_thermometer_put_into_warm_water_is_no_firing(cadence_s: float) -> None:
    time, temperature = simulate.thermogram(simulate.Firing(cadence_s=cadence_s, start_s=-600.0))
    temperature[time < -100.0] = 19.5
    assert found_in(time, temperature) == ()


@pytest.mark.parametrize("rise_k", [0.01, 0.04])
def test_a_wire_that_burned_alone_is_no_firing_to_choose(rise_k: float) -> None:
    wire = simulate.Firing(rise_k=rise_k, noise_k=0.0005, resolution_k=0.001)
    time, temperature = two_runs(wire, simulate.Firing(noise_k=0.0005), 600.0)
    assert all(abs(s.fired_at_s - 300.0) > 60.0 for s in found_in(time, temperature))


@pytest.mark.parametrize("count", [0, 4, 7])
def test_a_handful_of_readings_holds_no_firing_to_choose(count: int) -> None:
    times = np.arange(max(count, 4)) * 15.0
    assert found_in(times, 23.0 + 0.5 * times) == ()

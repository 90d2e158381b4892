"""The simulated firing obeys the equation it claims to solve."""

import numpy as np
import pytest

from reduction import simulate


def release(firing: simulate.Firing, since: np.ndarray) -> np.ndarray:
    """The release rate p [1/s] written out: one constant, two in a row, two side by side."""
    s = np.maximum(since, 0.0)
    first = firing.release_s[0]
    if len(firing.release_s) == 1:
        rate = np.exp(-s / first) / first
    elif firing.slow_share is None:
        second = firing.release_s[1]
        rate = (np.exp(-s / first) - np.exp(-s / second)) / (first - second)
    else:
        second, share = firing.release_s[1], firing.slow_share
        rate = (1 - share) * np.exp(-s / first) / first + share * np.exp(-s / second) / second
    return np.where(since > 0.0, rate, 0.0)


@pytest.mark.parametrize(
    "shape", [{}, {"release_s": (60.0, 15.0)}, {"release_s": (30.0, 110.0), "slow_share": 0.3}]
)
@pytest.mark.parametrize("leak", [-5e-5, 0.0, 2e-4])
def test_the_curve_obeys_the_heat_balance(shape: dict[str, object], leak: float) -> None:
    # dT/dt = ΔT·p + k(T_c − T) + w, by central differences away from the kink.
    firing = simulate.Firing(leak_per_s=leak, stirring_k_per_s=4e-6, **shape)
    time_s = np.array([10.0, 200.0, 299.0, 301.0, 320.0, 400.0, 700.0, 1200.0])
    step = 0.01
    change = simulate.true_temperature(firing, time_s + step)
    change = (change - simulate.true_temperature(firing, time_s - step)) / (2.0 * step)
    now = simulate.true_temperature(firing, time_s)
    expected = 2.5 * release(firing, time_s - 300.0) + leak * (25.4 - now) + 4e-6
    assert change == pytest.approx(expected, abs=1e-8)


def test_the_start_and_the_rise_are_those_asked_for() -> None:
    firing = simulate.Firing(leak_per_s=0.0, rise_k=1.75, start_c=21.0, end_s=3000.0)
    _, temperature_c = simulate.thermogram(firing)
    assert temperature_c[0] == 21.0
    assert temperature_c[-1] == pytest.approx(22.75)


def test_readings_come_at_mixed_intervals_and_before_zero() -> None:
    firing = simulate.Firing(
        start_s=-120.0,
        fired_at_s=0.0,
        end_s=90.0,
        cadence_s=((60.0, 0.0), (15.0, 45.0), (30.0, 90.0)),
    )
    assert simulate.reading_times(firing).tolist() == [-120, -60, 0, 15, 30, 45, 75]


def test_the_same_seed_gives_the_same_readings() -> None:
    first, again, other = (
        simulate.thermogram(simulate.Firing(noise_k=0.01, seed=seed))[1] for seed in (1, 1, 2)
    )
    assert (first == again).all() and not (first == other).all()


def test_readings_are_rounded_to_the_thermometer() -> None:
    _, temperature_c = simulate.thermogram(simulate.Firing(noise_k=0.01, resolution_k=0.05))
    assert temperature_c / 0.05 == pytest.approx(np.round(temperature_c / 0.05))

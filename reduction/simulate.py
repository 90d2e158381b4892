"""A simulated thermogram whose true corrected rise is known, from the heat balance of the bucket.

`dT/dt = ΔT·p(t − t_fired) + k·(T_c − T) + w` with leak k, convergence temperature T_c, stirring
heat w and a release p of unit area. The equation is linear, so the solution is written down, not
integrated: the drift from the start of the record plus the response to the release.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reduction.heat_balance import drift_shape, release_response

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Firing:
    """A firing with known truth.

    release_s holds one or two time constants. With `slow_share` None, two constants act one after
    the other (bomb wall, then water); otherwise they act side by side and `slow_share` of the heat
    comes with the second. `cadence_s` is one interval, or pairs (interval, until) in order.
    """

    rise_k: float = 2.5
    start_c: float = 23.0
    convergence_c: float = 25.4
    leak_per_s: float = 0.002 / 60
    stirring_k_per_s: float = 0.0
    release_s: tuple[float, ...] = (42.0,)
    slow_share: float | None = None
    start_s: float = 0.0
    fired_at_s: float = 300.0
    end_s: float = 1200.0
    cadence_s: float | tuple[tuple[float, float], ...] = 15.0
    noise_k: float = 0.0
    resolution_k: float = 0.0
    seed: int = 0


def thermogram(firing: Firing) -> tuple[Array, Array]:
    """Times [s] and temperatures [°C] of a firing, both of shape (n,), with noise and rounding.

    The same firing with the same seed gives the same readings.
    """
    time_s = reading_times(firing)
    temperature_c = true_temperature(firing, time_s)
    noise = np.random.default_rng(firing.seed).normal(0.0, 1.0, time_s.size)
    temperature_c = temperature_c + firing.noise_k * noise
    if firing.resolution_k > 0:
        steps = np.round(temperature_c / firing.resolution_k)
        temperature_c = np.round(steps * firing.resolution_k, 9)
    return time_s, temperature_c


def reading_times(firing: Firing) -> Array:
    """The moments [s] of the readings, from `start_s` to `end_s`, shape (n,)."""
    cadence = firing.cadence_s
    stretches = cadence if isinstance(cadence, tuple) else ((cadence, firing.end_s),)
    times = [np.array([firing.start_s])]
    for interval, until in stretches:
        begin = float(times[-1][-1])
        count = int(np.floor((min(until, firing.end_s) - begin) / interval + 1e-9))
        times.append(begin + interval * np.arange(1, count + 1))
    return np.concatenate(times)


def true_temperature(firing: Firing, time_s: Array) -> Array:
    """The temperature [°C] without noise or rounding at any times [s], same shape."""
    leak = firing.leak_per_s
    first_drift = leak * (firing.convergence_c - firing.start_c) + firing.stirring_k_per_s
    drift = first_drift * drift_shape(time_s - firing.start_s, leak)
    since = time_s - firing.fired_at_s
    released = sum(
        share * release_response(since, leak, constant) for share, constant in _shares(firing)
    )
    return np.asarray(firing.start_c + drift + firing.rise_k * released)


def _shares(firing: Firing) -> list[tuple[float, float]]:
    """The release as a sum of exponentials (share, time constant); the shares add up to one."""
    if len(firing.release_s) == 1:
        return [(1.0, firing.release_s[0])]
    first, second = firing.release_s
    if firing.slow_share is not None:
        return [(1.0 - firing.slow_share, first), (firing.slow_share, second)]
    return [(first / (first - second), first), (second / (second - first), second)]

"""Sound runs are left in peace: no finder cries wolf, whatever interval, leak, noise or steps."""

import dataclasses
from typing import Any

import numpy as np
import pytest

from reduction import simulate
from reduction.inputs import RunInputs
from reduction.reduce_run import reduce_run

from .conftest import RunFile, readings

CADENCES: tuple[Any, ...] = (
    1.0,
    2.0,
    5.0,
    10.0,
    15.0,
    20.0,
    30.0,
    60.0,
    ((60.0, 300.0), (15.0, 700.0), (60.0, 1800.0)),
    ((30.0, 300.0), (5.0, 500.0), (30.0, 1800.0)),
)
RELEASES = ((30.0,), (42.0,), (70.0,), (60.0, 15.0), (50.0, 10.0))
RESOLUTIONS = (0.0, 0.0001, 0.001, 0.002, 0.005, 0.01, 0.02, 0.1)
NOISES = (0.0, 0.0002, 0.0005, 0.001, 0.002, 0.005, 0.02)
BATCHES = 6
RUNS_A_BATCH = 60


def sound_firing(seed: int) -> simulate.Firing:
    """A run nobody would object to: jacket within a few kelvins, leak up to 10⁻⁴ s⁻¹."""
    rng = np.random.default_rng(seed)
    rise, convergence = rng.uniform(1.0, 4.0), rng.uniform(22.0, 28.0)
    return simulate.Firing(
        rise_k=rise,
        start_c=convergence - rise * rng.uniform(-0.5, 1.5),
        convergence_c=convergence,
        leak_per_s=rng.uniform(0.0, 1e-4),
        stirring_k_per_s=rng.uniform(0.0, 5e-6),
        release_s=RELEASES[rng.integers(len(RELEASES))],
        cadence_s=CADENCES[seed % len(CADENCES)],
        noise_k=NOISES[rng.integers(len(NOISES))],
        resolution_k=RESOLUTIONS[rng.integers(len(RESOLUTIONS))],
        start_s=float(rng.choice([0.0, -300.0])),
        end_s=float(rng.choice([1500.0, 1800.0])),
        seed=seed,
    )


@pytest.mark.parametrize("batch", range(BATCHES))
def test_no_warning_and_no_block_on_sound_runs(standardization: RunFile, batch: int) -> None:
    cried = []
    for seed in range(batch * RUNS_A_BATCH, (batch + 1) * RUNS_A_BATCH):
        firing = sound_firing(seed)
        off = float(np.random.default_rng(seed).uniform(-20.0, 20.0))
        run = standardization(firing, fired_at_s=300.0 + off if seed % 3 else None)
        if seed % 5 == 1:
            run["settled_at_s"] = 300.0 + 14.0 * sum(firing.release_s)
        run["after"] = {"soot": "none", "residue_mg": 0.2}
        notes = reduce_run(RunInputs.from_dict(run)).notes
        # A leak of 5·10⁻⁵ s⁻¹ does bend the lines by what the method's own warning says.
        told = {"line_bias"} if firing.leak_per_s > 4e-5 else set()
        cried += [(seed, note) for note in notes if note.severity != "N" and note.code not in told]
        coarse = any(note.code == "coarse_resolution" for note in notes)
        assert coarse == (firing.resolution_k == 0.1)
    assert cried == []


@pytest.mark.parametrize("rise", [0.5, 6.0])
@pytest.mark.parametrize("fired_by_clock", ["logger", "pc"])
def test_small_and_large_rises_are_sound_too(
    standardization: RunFile, rise: float, fired_by_clock: str
) -> None:
    firing = dataclasses.replace(sound_firing(3), rise_k=rise, noise_k=0.001, resolution_k=0.001)
    run = standardization(firing, fired_by_clock=fired_by_clock)
    assert {note.severity for note in reduce_run(RunInputs.from_dict(run)).notes} == {"N"}


def test_what_happens_outside_the_bounds_is_no_part_of_the_run(standardization: RunFile) -> None:
    # The lid is lifted at 1230 s, after a run that ends at 1200 s; the stirrer starts at −100 s.
    wild = readings(simulate.Firing(start_s=-200.0, end_s=1500.0, noise_k=0.0005, cadence_s=10.0))
    for i, time in enumerate(wild["time_s"]):
        if time > 1230.0:
            wild["temperature_c"][i] -= 2.0 + 0.5 * (i % 3)
        if time < -100.0:
            wild["temperature_c"][i] += 0.3 * (i % 4)
    bounded = standardization(readings=wild, fore_from_s=0.0, after_until_s=1200.0)
    assert {note.severity for note in reduce_run(RunInputs.from_dict(bounded)).notes} == {"N"}


def test_readings_entered_late_are_put_in_order_without_a_word(standardization: RunFile) -> None:
    run = standardization(simulate.Firing(noise_k=0.0005, resolution_k=0.001))
    written = readings(simulate.Firing(noise_k=0.0005, resolution_k=0.001))
    order = list(range(len(written["time_s"])))
    order.insert(60, order.pop(50))
    order.insert(70, order.pop(20))
    run["readings"] = {key: [values[i] for i in order] for key, values in written.items()}
    assert {note.severity for note in reduce_run(RunInputs.from_dict(run)).notes} == {"N"}

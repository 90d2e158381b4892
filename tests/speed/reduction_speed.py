"""How fast runs are reduced, as ratios of times measured side by side on this machine.

`python tests/speed/reduction_speed.py` simulates 20,000 runs of 3,600 readings in a temporary
directory (1.2 GB) and takes a few minutes; `--runs 500 --readings 600` is quick. Every figure is
the median of measurements that take turns, so that a busy machine slows both sides alike.
"""

import argparse
import resource
import sys
import tempfile
import time
import warnings
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from statistics import median
from typing import NamedTuple

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from reduction import simulate
from reduction.batch import Runs, reduce_runs, reduce_stream
from reduction.heat_balance import fit_heat_balance
from reduction.line_rises import line_rises
from reduction.rise_uncertainty import reading_noise
from reduction.thermogram import Thermogram, rate
from tests.speed import student

BETWEEN = """    what stands between: a cumsum goes over each temperature once; a rise and its
    uncertainty go over each time and temperature about ten times (order, bounds, centring, three
    sums of products, residuals, their squares and neighbours, range) and over each reading of the
    main period thirty times"""
FIRED, SETTLED = 1 / 6, 1 / 3
"""Where in the record the firing and the settled moment lie, as shares of its length."""
TURN = 0.02
CHUNK = 60
"""Runs of one chunk on disk."""


def main() -> None:
    options = _options()
    warnings.simplefilter("ignore")  # quad complains about the corners of an interpolated curve
    print(f"{options.runs} runs of {options.readings} readings, {options.processes} processes\n")
    one_run(options)
    heat_balance(options)
    with tempfile.TemporaryDirectory(dir=options.directory) as folder:
        simulate_to(Path(folder), options)
        batch(Path(folder), options)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=20_000)
    parser.add_argument("--readings", type=int, default=3_600)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--repeats", type=int, default=7, help="measurements of each figure")
    parser.add_argument("--directory", type=Path, help="where the readings are kept meanwhile")
    return parser.parse_args()


def firing(options: argparse.Namespace, number: int) -> simulate.Firing:
    """An invented firing read once a second; no two alike."""
    return simulate.Firing(
        rise_k=2.0 + 0.1 * (number % 13),
        leak_per_s=1e-5 * (number % 7),
        release_s=(45.0, 12.0),
        cadence_s=1.0,
        fired_at_s=round(FIRED * options.readings),
        end_s=options.readings - 1.0,
        noise_k=0.001,
        resolution_k=0.0001,
        seed=number,
    )


def timed(*tasks: Callable[[], object], repeats: int) -> list["Spent"]:
    """The median times of each task, the tasks taking turns of at least TURN seconds."""
    turns: list[list[Spent]] = [[] for _ in tasks]
    for _ in range(repeats):
        for task, own in zip(tasks, turns, strict=True):
            own.append(_turn(task))
    return [Spent(median(t.s for t in own), median(t.cpu_s for t in own)) for own in turns]


class Spent(NamedTuple):
    """Time on the clock and time of all processors [s]."""

    s: float
    cpu_s: float


def _turn(task: Callable[[], object]) -> Spent:
    start, cpu, done = time.perf_counter(), _cpu_s(), 0
    while (passed := time.perf_counter() - start) < TURN or not done:
        task()
        done += 1
    return Spent(passed / done, (_cpu_s() - cpu) / done)


def _cpu_s() -> float:
    """Processor time so far of this process and of those it started that have ended."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(each.ru_utime + each.ru_stime for each in used)


def one_run(options: argparse.Namespace) -> None:
    """(a) One run: every method with two lines and its uncertainty, against the student's."""
    time_s, temperature_c = simulate.thermogram(firing(options, 1))
    bounds = float(round(FIRED * options.readings)), float(round(SETTLED * options.readings))
    run = (time_s, temperature_c, *bounds)
    simpson = student.by_simpson(time_s)
    ours, *theirs = timed(
        partial(reduce_one, *run),
        partial(student.listed_steps, *run, student.by_quad),
        partial(student.listed_steps, *run, simpson),
        partial(student.all_results, *run, student.by_quad),
        partial(student.all_results, *run, simpson),
        repeats=max(options.repeats, 5),
    )
    print(f"(a) one run, six methods with uncertainties: {1e6 * ours.s:.0f} µs")
    names = ("lines, two crossings, one integral", "all methods, line uncertainties")
    for name, by_quad, by_simpson in zip(names, theirs[::2], theirs[1::2], strict=True):
        print(
            f"    student, {name}: quad {1e3 * by_quad.s:.2f} ms = {by_quad.s / ours.s:.1f} times, "
            f"Simpson {1e3 * by_simpson.s:.2f} ms = {by_simpson.s / ours.s:.1f} times"
        )


def reduce_one(
    time_s: student.Array, temperature_c: student.Array, fired_s: float, settled_s: float
) -> object:
    """What the closed forms say of one run, from its readings as they come."""
    thermogram = Thermogram.of(time_s, temperature_c)
    outer = thermogram.time_s[0], thermogram.time_s[-1]
    rated = rate(
        thermogram.time_s, thermogram.temperature_c, outer[0], fired_s, settled_s, outer[1]
    )
    noise = reading_noise(rated.fore, rated.after, thermogram.resolution_k)
    return line_rises(rated, noise)


def heat_balance(options: argparse.Namespace) -> None:
    """(d) The heat-balance fit of one run, beside a straight line through the same readings."""
    time_s, temperature_c = simulate.thermogram(firing(options, 2))
    since = time_s - round(FIRED * options.readings)
    settled = float(round((SETTLED - FIRED) * options.readings))
    fit, line = timed(
        partial(fit_heat_balance, since, temperature_c, settled, 0.0001),
        partial(np.polyfit, time_s, temperature_c, 1),
        repeats=max(options.repeats, 5),
    )
    times = fit.s / line.s
    print(f"(d) heat-balance fit: {1e3 * fit.s:.1f} ms a run = {times:.0f} numpy.polyfit lines")


def simulate_to(folder: Path, options: argparse.Namespace) -> None:
    """Write the readings of all runs, chunk after chunk."""
    for number, first in enumerate(range(0, options.runs, CHUNK)):
        some = range(first, min(first + CHUNK, options.runs))
        curves = [simulate.thermogram(firing(options, run)) for run in some]
        for column, name in ((0, "time"), (1, "temperature")):
            np.concatenate([curve[column] for curve in curves]).tofile(folder / f"{name}{number}")


def load(folder: Path, number: int, readings: int) -> Runs:
    """One chunk of runs from its files."""
    time_s, temperature_c = (
        np.fromfile(folder / f"{name}{number}") for name in ("time", "temperature")
    )
    runs = time_s.size // readings
    offsets = readings * np.arange(runs + 1)
    fired, settled = (np.full(runs, float(round(at * readings))) for at in (FIRED, SETTLED))
    return Runs.of(time_s, temperature_c, offsets, fired, settled)


def chunks(folder: Path, options: argparse.Namespace) -> list[Callable[[], Runs]]:
    count = -(-options.runs // CHUNK)
    return [partial(load, folder, number, options.readings) for number in range(count)]


def batch(folder: Path, options: argparse.Namespace) -> None:
    """(b) All runs streamed from disk against the student's loop, scaled from a few runs."""
    loaders = chunks(folder, options)
    few = max(2 * options.repeats, 10)
    loops = {
        "lines, two crossings, one integral by quad": (student.listed_steps, True),
        "the same by Simpson's rule": (student.listed_steps, False),
        "all methods by Simpson's rule": (student.all_results, False),
    }
    ours, *theirs = timed(
        partial(_stream, loaders, options.processes),
        *(partial(_loop, loaders[0](), few, *how) for how in loops.values()),
        repeats=options.repeats,
    )
    each = 1e6 * ours.s / options.runs
    print(
        f"(b) {options.runs} runs in {ours.s:.2f} s, {each:.0f} µs each; "
        f"{ours.cpu_s:.2f} s of processor time in {options.processes} processes"
    )
    for name, loop in zip(loops, theirs, strict=True):
        by_clock, by_cpu = (t * options.runs / few for t in loop)
        print(
            f"    student's loop, {name} (scaled from {few} runs): {by_clock:.0f} s = "
            f"{by_clock / ours.s:.0f} times; {options.processes * by_cpu / ours.cpu_s:.0f} times "
            "with the processors to itself"
        )
    print(f"    peak memory {_peak_mb(options.processes):.0f} MB")
    beside_cumsum(loaders, ours, options)


def beside_cumsum(
    loaders: list[Callable[[], Runs]], all_runs: Spent, options: argparse.Namespace
) -> None:
    """(c) The same against one cumsum over all temperatures, held in memory for this alone."""
    chunk = loaders[0]()
    unsettled = replace(chunk, settled_at_s=np.full(len(chunk), np.nan))
    temperature_c = np.concatenate([loader().temperature_c for loader in loaders])
    summed, reduced, found, near = timed(
        partial(np.cumsum, temperature_c),
        partial(reduce_runs, chunk),
        partial(reduce_runs, unsettled),
        partial(np.cumsum, chunk.temperature_c),
        repeats=options.repeats,
    )
    here = len(chunk) / options.runs
    print(
        f"(c) numpy's cumsum over all temperatures: {summed.s:.2f} s; the batch takes "
        f"{all_runs.s / summed.s:.1f} times as long, "
        f"{all_runs.cpu_s / options.processes / summed.cpu_s:.1f} times with the processors to "
        f"itself, files read included\n"
        f"    one process, readings in memory: {reduced.cpu_s / here / summed.cpu_s:.1f} times, or "
        f"{found.cpu_s / here / summed.cpu_s:.0f} times where the settled moments are to be found; "
        f"{reduced.cpu_s / near.cpu_s:.1f} times a cumsum that stays in the cache\n{BETWEEN}"
    )


def _stream(loaders: list[Callable[[], Runs]], processes: int) -> int:
    return sum(len(reduced) for reduced in reduce_stream(loaders, processes=processes))


def _loop(runs: Runs, few: int, steps: Callable[..., object], quad: bool) -> None:
    """The student's loop over a few runs."""
    for time_s, temperature_c, fired, settled in _separate(runs, few):
        integral = student.by_quad if quad else student.by_simpson(time_s)
        steps(time_s, temperature_c, fired, settled, integral)


def _separate(runs: Runs, few: int) -> Iterator[tuple[student.Array, student.Array, float, float]]:
    for i in range(min(few, len(runs))):
        own = slice(runs.offsets[i], runs.offsets[i + 1])
        bounds = float(runs.fired_at_s[i]), float(runs.settled_at_s[i])
        yield runs.time_s[own], runs.temperature_c[own], *bounds


def _peak_mb(processes: int) -> float:
    """The most memory held at any time, in this process and in all it started."""
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    each = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss if processes > 1 else 0
    return (own + processes * each) / 1024


if __name__ == "__main__":
    main()

"""Runs made ready: readings in order, bounds known, what cannot be reduced set aside."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reduction.batch.runs import Runs
from reduction.batch.stretches import first_at_least
from reduction.errors import ReductionError
from reduction.notes import Thresholds
from reduction.periods import find_periods
from reduction.thermogram import HOTTEST_C, LONGEST_S, Periods, Thermogram

Array = NDArray[np.float64]
Index = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Prepared:
    """Runs in order with all bounds [s] filled in, and where their periods lie.

    Positions of readings, shape (runs,): the fore period is `begin` up to `fired`, the main period
    from there up to `settled`, the after period from there up to `end`. A refused run has no
    readings, a run without an after period none there; `refused` holds the sentence by run.
    """

    runs: Runs
    begin: Index
    fired: Index
    settled: Index
    end: Index
    refused: dict[int, str]


def prepare(runs: Runs, limits: Thresholds) -> Prepared:
    """Sort, find what is not given, and set aside what cannot be reduced."""
    runs = _with_ends(_in_order(runs))
    if runs.time_s.size < 2:
        runs = _with_spare_readings(runs)
    refused: dict[int, str] = {}
    begin, fired, settles, end = _positions(runs)
    doubtful = np.flatnonzero(_doubtful(runs, begin, fired, end))
    for i in doubtful:
        try:
            periods = _find(runs, int(i), limits)
        except ReductionError as refusal:
            refused[int(i)] = refusal.sentence
            continue
        runs.fired_at_s[i] = periods.fired_at_s
        settled = periods.settled_at_s
        runs.settled_at_s[i] = np.nan if settled is None else settled
    if doubtful.size:
        begin, fired, settles, end = _positions(runs)
    end = np.maximum(end, settles)
    gone = np.array(sorted(refused), dtype=np.intp)
    for position in (fired, settles, end):
        position[gone] = begin[gone]
    for bound in (runs.fired_at_s, runs.settled_at_s):
        bound[gone] = np.nan
    return Prepared(runs, begin, fired, settles, end, refused)


def _in_order(runs: Runs) -> Runs:
    """The runs without blank slots, each sorted by time, keeping the order among equal times."""
    time, temperature, offsets = runs.time_s, runs.temperature_c, runs.offsets
    with np.errstate(over="ignore", invalid="ignore"):
        sound = np.isfinite(time.sum() + temperature.sum())
    if not sound:
        filled = np.isfinite(time) & np.isfinite(temperature)
        offsets = np.concatenate([[0], np.cumsum(filled)])[offsets]
        time, temperature = time[filled], temperature[filled]
    falls = time[1:] < time[:-1]
    falls[offsets[(offsets > 0) & (offsets < time.size)] - 1] = False  # from run to run it may
    if falls.any():
        run = np.repeat(np.arange(len(runs)), np.diff(offsets))
        order = np.lexsort((time, run))
        time, temperature = time[order], temperature[order]
    return replace(runs, time_s=time, temperature_c=temperature, offsets=offsets)


def _with_spare_readings(runs: Runs) -> Runs:
    """The same runs and two readings that belong to none, so that there is something to look at."""
    spare = np.zeros(2)
    time, temperature = np.append(runs.time_s, spare), np.append(runs.temperature_c, spare)
    return replace(runs, time_s=time, temperature_c=temperature)


def _with_ends(runs: Runs) -> Runs:
    """The outer bounds filled in by the first and last reading; bounds copied, to be filled in."""
    first, last = runs.offsets[:-1], runs.offsets[1:] - 1
    some = last >= first
    ends = []
    for given, position in ((runs.fore_from_s, first), (runs.after_until_s, last)):
        own = np.full(len(runs), np.nan)
        own[some] = runs.time_s[position[some]]
        ends.append(np.where(np.isnan(given), own, given))
    fired, settled = runs.fired_at_s.copy(), runs.settled_at_s.copy()
    return replace(
        runs, fore_from_s=ends[0], after_until_s=ends[1], fired_at_s=fired, settled_at_s=settled
    )


def _doubtful(runs: Runs, begin: Index, fired: Index, end: Index) -> NDArray[np.bool_]:
    """Which runs miss a bound, or may be refused for one of the reasons a single run is."""
    doubtful = ~(runs.settled_at_s > runs.fired_at_s) | (np.diff(runs.offsets) < 4)
    for first, last in ((begin, fired), (fired, end)):
        doubtful |= last - first < 2
        sure = ~doubtful
        doubtful[sure] |= runs.time_s[last[sure] - 1] <= runs.time_s[first[sure]]
    whole = np.flatnonzero(~doubtful)
    time = runs.time_s
    doubtful[whole] |= time[runs.offsets[whole + 1] - 1] - time[runs.offsets[whole]] > LONGEST_S
    if max(runs.temperature_c.max(), -runs.temperature_c.min()) > HOTTEST_C:
        hot = np.flatnonzero(np.abs(runs.temperature_c) > HOTTEST_C)
        doubtful[np.searchsorted(runs.offsets, hot, side="right") - 1] = True
    return doubtful


def _positions(runs: Runs) -> tuple[Index, Index, Index, Index]:
    """Where the periods begin and end; bounds still unknown lie behind the last reading."""
    first, last = runs.offsets[:-1], runs.offsets[1:]
    after_firing, after_end = (
        np.nextafter(bound, np.inf) for bound in (runs.fired_at_s, runs.after_until_s)
    )
    bounds = [
        np.where(np.isnan(bound), np.inf, bound)
        for bound in (runs.fore_from_s, after_firing, runs.settled_at_s, after_end)
    ]
    found = first_at_least(runs.time_s, np.tile(first, 4), np.tile(last, 4), np.concatenate(bounds))
    begin, fired, settled, end = np.split(found, 4)
    return begin, np.maximum(fired, begin), settled, end


def _find(runs: Runs, i: int, limits: Thresholds) -> Periods:
    """The periods of one run, found as for a run by itself."""
    own = slice(runs.offsets[i], runs.offsets[i + 1])
    thermogram = Thermogram.of(runs.time_s[own], runs.temperature_c[own])
    fired, settled, begin, end = (
        None if np.isnan(bound[i]) else float(bound[i])
        for bound in (runs.fired_at_s, runs.settled_at_s, runs.fore_from_s, runs.after_until_s)
    )
    return find_periods(thermogram, fired, settled, begin, end, limits)

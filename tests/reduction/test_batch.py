"""Many runs at once give the numbers each gives alone; what cannot be reduced is set aside."""

from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reduction import InputError, ReductionError, simulate
from reduction.batch import Reduced, Runs, reduce_runs, reduce_stream
from reduction.curve import reduce_curve
from reduction.line_rises import LINE_METHODS, READ_AT_A_MOMENT
from reduction.periods import find_periods
from reduction.thermogram import HOTTEST_C, Thermogram

CADENCES = (1.0, 5.0, 15.0, 30.0, ((60.0, 300.0), (5.0, 700.0), (30.0, 1500.0)))
Curve = tuple[np.ndarray, np.ndarray]


def curve(number: int) -> Curve:
    """An invented run; with its number change cadence, noise, resolution, leak and blemish."""
    rng = np.random.default_rng(number)
    firing = simulate.Firing(
        rise_k=float(rng.uniform(0.5, 4.0)),
        leak_per_s=float(rng.uniform(-5e-5, 1e-4)),
        release_s=((42.0,), (60.0, 15.0))[number % 2],
        cadence_s=CADENCES[number % len(CADENCES)],
        noise_k=(0.0, 0.0005, 0.003)[number % 3],
        resolution_k=(0.0, 0.001, 0.01, 0.1)[number % 4],
        end_s=500.0 if number % 11 == 0 else 1500.0,
        seed=number,
    )
    time_s, temperature_c = simulate.thermogram(firing)
    if number % 7 == 1:
        again = rng.integers(0, time_s.size, 5)
        time_s = np.append(time_s, time_s[again])
        temperature_c = np.append(temperature_c, temperature_c[again] + 0.001)
    if number % 7 == 2:
        temperature_c[rng.integers(0, time_s.size, 3)] = np.nan
    if number % 7 == 3:
        order = rng.permutation(time_s.size)
        time_s, temperature_c = time_s[order], temperature_c[order]
    if number % 7 == 4:
        time_s = time_s + 1.7e9
    return time_s, temperature_c


def known(number: int) -> tuple[float, float]:
    """Firing and settled moment of a run as given; some are left to be found."""
    shift = 1.7e9 if number % 7 == 4 else 0.0
    fired = np.nan if number % 13 == 5 else 300.0 + shift
    settled = np.nan if number % 5 == 0 else 900.0 + shift
    return fired, settled


def alone(time_s: Any, temperature_c: Any, fired: float, settled: float) -> dict[str, Any]:
    """The line methods of one run by the single door, NaN for no answer."""
    thermogram = Thermogram.of(time_s, temperature_c)
    given_or_none = [None if np.isnan(moment) else moment for moment in (fired, settled)]
    found = reduce_curve(thermogram, find_periods(thermogram, *given_or_none))
    return {"drift": found.drift, "rise": {name: found.rise[name] for name in LINE_METHODS}}


def assert_same(reduced: Reduced, i: int, one: dict[str, Any]) -> None:
    for j, side in enumerate(("fore", "after")):
        slope = as_number(one["drift"][side]["slope_k_per_s"])
        assert reduced.drift_k_per_s[j, i] == pytest.approx(slope, rel=1e-9, abs=1e-16, nan_ok=True)
    for j, name in enumerate(LINE_METHODS):
        values = one["rise"][name]
        rise, u_k, dof = (as_number(values[key]) for key in ("rise_k", "u_k", "dof"))
        assert reduced.rise_k[j, i] == pytest.approx(rise, rel=1e-9, abs=1e-15, nan_ok=True)
        # Without noise the uncertainty is that of the last digits, which differ in their order.
        assert reduced.u_k[j, i] == pytest.approx(u_k, rel=1e-6, abs=1e-11, nan_ok=True)
        if np.isfinite(dof) and u_k > 1e-9:
            assert reduced.dof[j, i] == pytest.approx(dof, rel=1e-6)
    for j, name in enumerate(READ_AT_A_MOMENT):
        at_s = as_number(one["rise"][name]["at_s"])
        assert reduced.at_s[j, i] == pytest.approx(at_s, rel=1e-12, abs=1e-6, nan_ok=True)


def as_number(value: float | None) -> float:
    return np.nan if value is None else value


def runs_of(numbers: range) -> Runs:
    bounds = np.array([known(number) for number in numbers])
    return Runs.join(map(curve, numbers), fired_at_s=bounds[:, 0], settled_at_s=bounds[:, 1])


@pytest.fixture
def no_heat_balance(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The heat-balance fit is no part of a batch, and slow."""
    monkeypatch.setattr("reduction.curve._heat_balance", lambda *_: {"rise_k": None})
    yield


@pytest.mark.usefixtures("no_heat_balance")
def test_a_batch_of_very_different_runs_gives_what_each_gives_alone() -> None:
    numbers = range(330)
    reduced = reduce_runs(runs_of(numbers))
    assert len(reduced) == 330 and not reduced.refused
    for i in numbers:
        assert_same(reduced, i, alone(*curve(i), *known(i)))
    without_after = np.isnan(reduced.rise("regnault_pfaundler"))
    assert without_after[::11].all() and without_after.sum() < 60


@pytest.mark.usefixtures("no_heat_balance")
@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.lists(
                st.tuples(
                    st.one_of(st.integers(-5, 40), st.floats(-1e3, 1e3)),
                    st.one_of(st.sampled_from([20.0, 20.1, 22.0, 25.0]), st.floats(-50.0, 200.0)),
                ),
                max_size=25,
            ),
            st.one_of(st.just(float("nan")), st.floats(-10.0, 50.0)),
            st.one_of(st.just(float("nan")), st.floats(-10.0, 100.0)),
        ),
        max_size=4,
    )
)
@pytest.mark.filterwarnings("error::RuntimeWarning")
def test_any_runs_are_reduced_or_refused_as_each_is_alone(
    drawn: list[tuple[list[tuple[float, float]], float, float]],
) -> None:
    curves = [
        (np.array([t for t, _ in pairs], float), np.array([y for _, y in pairs], float))
        for pairs, _, _ in drawn
    ]
    fired, settled = (np.array([run[k] for run in drawn], float) for k in (1, 2))
    reduced = reduce_runs(Runs.join(curves, fired_at_s=fired, settled_at_s=settled))
    for i, (time_s, temperature_c) in enumerate(curves):
        try:
            alone(time_s, temperature_c, fired[i], settled[i])
        except ReductionError as refusal:
            assert reduced.refused[i] == refusal.sentence
            assert np.isnan(reduced.rise_k[:, i]).all()
            continue
        assert i not in reduced.refused


@pytest.mark.parametrize("readings", [1, 2_000, 50_000])
def test_the_size_of_the_parts_changes_nothing(
    monkeypatch: pytest.MonkeyPatch, readings: int
) -> None:
    runs = runs_of(range(20))
    whole = reduce_runs(runs)
    monkeypatch.setattr("reduction.batch.reduce.BLOCK", readings)
    monkeypatch.setattr("reduction.batch.rated.NEAR", readings)
    parts = reduce_runs(runs)
    for name in ("rise_k", "u_k", "drift_k_per_s", "settled_at_s"):
        value = getattr(whole, name)
        assert getattr(parts, name) == pytest.approx(value, rel=1e-9, nan_ok=True)


def test_outer_bounds_are_kept_to() -> None:
    time_s, temperature_c = curve(13)
    inside = (time_s >= 60.0) & (time_s <= 1200.0)
    bounds = {"fired_at_s": np.array([300.0]), "settled_at_s": np.array([900.0])}
    outer = {"fore_from_s": np.array([60.0]), "after_until_s": np.array([1200.0])}
    bounded = reduce_runs(Runs.join([(time_s, temperature_c)], **bounds, **outer))
    cut = reduce_runs(Runs.join([(time_s[inside], temperature_c[inside])], **bounds))
    assert bounded.rise_k == pytest.approx(cut.rise_k, rel=1e-12)
    assert bounded.rise_k != pytest.approx(
        reduce_runs(Runs.join([(time_s, temperature_c)], **bounds)).rise_k, rel=1e-9
    )


def test_runs_that_cannot_be_reduced_say_why_and_leave_the_others_alone() -> None:
    good = curve(6)
    hot = (good[0], np.where(good[0] == 600.0, 10.0 * HOTTEST_C, good[1]))
    empty = (np.empty(0), np.empty(0))
    known_bounds = {"fired_at_s": np.full(5, 300.0), "settled_at_s": np.full(5, 900.0)}
    known_bounds["fired_at_s"][3] = 1e5
    reduced = reduce_runs(Runs.join([empty, good, hot, good, good], **known_bounds))
    assert list(reduced.refused) == [0, 2, 3]
    assert reduced.refused[0].startswith("0 usable readings")
    assert reduced.refused[2].startswith("Readings reach")
    assert reduced.refused[3].startswith(
        "Firing at 100000 s leaves 301 readings before and 0 after"
    )
    assert np.isnan(reduced.rise_k[:, [0, 2, 3]]).all()
    assert np.array_equal(reduced.rise_k[:, 1], reduced.rise_k[:, 4])


def test_no_runs_at_all_give_no_results() -> None:
    nothing = Runs.of(np.empty(0), np.empty(0), np.zeros(1, int), np.empty(0))
    assert len(reduce_runs(nothing)) == 0


@pytest.mark.parametrize(
    ("field", "change"),
    [
        ("offsets", {"offsets": np.array([0, 9, 4, 12])}),
        ("offsets", {"offsets": np.array([0, 4, 8, 11])}),
        ("temperature_c", {"temperature_c": np.zeros(11)}),
        ("fired_at_s", {"fired_at_s": np.zeros(2)}),
        ("settled_at_s", {"settled_at_s": np.zeros(4)}),
    ],
)
def test_arrays_that_do_not_fit_together_are_named(field: str, change: dict[str, Any]) -> None:
    fitting = {
        "time_s": np.arange(12.0),
        "temperature_c": np.zeros(12),
        "offsets": np.array([0, 4, 8, 12]),
        "fired_at_s": np.ones(3),
    }
    with pytest.raises(InputError) as refusal:
        Runs.of(**(fitting | change))
    assert refusal.value.field == field and refusal.value.sentence.endswith(".")


def test_a_stream_gives_the_chunks_in_order_from_one_process_or_two() -> None:
    numbers = [range(first, first + 6) for first in range(0, 30, 6)]
    loaders = [partial(runs_of, some) for some in numbers]
    whole = reduce_runs(runs_of(range(30)))
    for processes in (1, 2):
        joined = Reduced.join(reduce_stream(loaders, processes=processes))
        assert np.array_equal(joined.rise_k, whole.rise_k, equal_nan=True)


def test_a_stream_loads_no_chunk_before_it_is_asked_for() -> None:
    loaded: list[int] = []

    def load(number: int) -> Runs:
        loaded.append(number)
        return runs_of(range(number, number + 1))

    stream = reduce_stream([partial(load, number) for number in (1, 2, 3)])
    assert loaded == []
    next(stream)
    assert loaded == [1]


def test_refused_runs_keep_their_numbers_when_chunks_are_joined() -> None:
    chunk = runs_of(range(6, 8))
    late = replace(chunk, fired_at_s=np.array([300.0, 1e6]))
    joined = Reduced.join([reduce_runs(chunk), reduce_runs(late)])
    assert list(joined.refused) == [3]

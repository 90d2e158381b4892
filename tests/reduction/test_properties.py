"""What must hold for every curve: shifts change nothing, and the rise scales as it must."""

import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reduction import ReductionError, simulate
from reduction.curve import CurveResult, reduce_curve
from reduction.inputs import RISE_METHODS, RunInputs
from reduction.periods import find_periods
from reduction.reduce_run import reduce_run
from reduction.thermogram import Thermogram

from .conftest import readings

LINE_METHODS = [name for name in RISE_METHODS if name != "heat_balance"]

firings = st.builds(
    simulate.Firing,
    rise_k=st.floats(1.0, 4.0),
    convergence_c=st.floats(21.0, 28.0),
    leak_per_s=st.floats(-5e-5, 1e-4),
    stirring_k_per_s=st.floats(0.0, 5e-6),
    release_s=st.sampled_from([(30.0,), (42.0,), (60.0, 15.0)]),
    cadence_s=st.sampled_from([5.0, 15.0, 30.0, ((60.0, 300.0), (10.0, 700.0), (30.0, 1500.0))]),
    noise_k=st.sampled_from([0.0, 0.001]),
    end_s=st.just(1500.0),
    seed=st.integers(0, 1000),
)
quick = settings(max_examples=25, deadline=None)


def reduced(time_s: np.ndarray, temperature_c: np.ndarray, fired: float) -> CurveResult:
    thermogram = Thermogram.of(time_s, temperature_c)
    return reduce_curve(thermogram, find_periods(thermogram, fired, fired + 700.0))


def assert_same_rises(
    one: CurveResult, other: CurveResult, tolerance: float, factor: float = 1.0
) -> None:
    for name in RISE_METHODS:
        expected = one.rise[name]["rise_k"]
        loose = 1e-5 if name == "heat_balance" else tolerance
        assert isinstance(expected, float)
        assert other.rise[name]["rise_k"] == pytest.approx(factor * expected, abs=loose)


@quick
@given(firings, st.floats(-1e6, 2e9))
def test_shifting_the_clock_changes_no_rise(firing: simulate.Firing, shift: float) -> None:
    time_s, temperature_c = simulate.thermogram(firing)
    shift = round(shift)
    one = reduced(time_s, temperature_c, 300.0)
    assert_same_rises(one, reduced(time_s + shift, temperature_c, 300.0 + shift), 1e-9)


@quick
@given(firings, st.floats(-20.0, 300.0))
def test_adding_a_constant_to_every_temperature_changes_no_rise(
    firing: simulate.Firing, shift: float
) -> None:
    time_s, temperature_c = simulate.thermogram(firing)
    one = reduced(time_s, temperature_c, 300.0)
    assert_same_rises(one, reduced(time_s, temperature_c + shift, 300.0), 1e-9)


@quick
@given(firings, st.randoms(use_true_random=False))
def test_the_order_of_the_readings_does_not_matter(firing: simulate.Firing, random) -> None:
    time_s, temperature_c = simulate.thermogram(firing)
    order = np.array(random.sample(range(time_s.size), time_s.size))
    one = reduced(time_s, temperature_c, 300.0)
    assert_same_rises(one, reduced(time_s[order], temperature_c[order], 300.0), 1e-12)


@quick
@given(firings, st.floats(0.5, 3.0))
def test_a_wider_degree_scales_the_rise(firing: simulate.Firing, factor: float) -> None:
    time_s, temperature_c = simulate.thermogram(firing)
    one = reduced(time_s, temperature_c, 300.0)
    assert_same_rises(one, reduced(time_s, factor * temperature_c, 300.0), 1e-9, factor)


@quick
@given(firings, st.floats(0.2, 5.0))
def test_a_faster_clock_changes_no_rise(firing: simulate.Firing, factor: float) -> None:
    time_s, temperature_c = simulate.thermogram(firing)
    thermogram = Thermogram.of(factor * time_s, temperature_c)
    periods = find_periods(thermogram, factor * 300.0, factor * 1000.0)
    one, other = reduced(time_s, temperature_c, 300.0), reduce_curve(thermogram, periods)
    for name in LINE_METHODS:
        expected = one.rise[name]["rise_k"]
        assert other.rise[name]["rise_k"] == pytest.approx(expected, abs=1e-9)


@quick
@given(firings)
def test_equal_areas_and_regnault_pfaundler_agree_where_the_drift_is_linear(
    firing: simulate.Firing,
) -> None:
    # Straight lines through the bend of a leak k part the two methods by about (k·t)²: a weak
    # leak and no noise leave less than a thousandth.
    weak = replace(firing, leak_per_s=firing.leak_per_s / 5.0, noise_k=0.0)
    rises = reduced(*simulate.thermogram(weak), 300.0).rise
    areas, integral = (rises[name]["rise_k"] for name in ("equal_areas", "regnault_pfaundler"))
    assert areas == pytest.approx(integral, rel=1e-3)


@quick
@given(firings, st.floats(0.3, 1.2), st.floats(20000.0, 30000.0))
def test_the_heat_capacity_scales_with_charge_and_certificate(
    firing: simulate.Firing, charge_g: float, j_per_g: float
) -> None:
    def capacity(charge: float, certificate: float) -> float:
        standard = {"j_per_g": certificate, "basis": "air"}
        run = {"kind": "standardization", "readings": readings(firing), "fired_at_s": 300.0}
        run |= {"charge_g": charge, "standard": standard, "settled_at_s": 1000.0}
        found = reduce_run(RunInputs.from_dict(run)).heat_capacity
        assert found is not None
        return found["j_per_k"]

    one = capacity(charge_g, j_per_g)
    assert capacity(2.0 * charge_g, j_per_g) == pytest.approx(2.0 * one)
    assert capacity(charge_g, 1.1 * j_per_g) == pytest.approx(1.1 * one)


@settings(max_examples=150, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.one_of(st.integers(-5, 40), st.floats(-1e3, 1e3)),
            st.one_of(st.sampled_from([20.0, 20.1, 22.0, 25.0]), st.floats(-50.0, 200.0)),
        ),
        max_size=40,
    ),
    st.one_of(st.none(), st.floats(-10.0, 50.0)),
    st.one_of(st.none(), st.floats(-10.0, 100.0)),
)
@pytest.mark.filterwarnings("error::RuntimeWarning")
def test_any_readings_are_reduced_or_refused_in_a_sentence(
    pairs: list[tuple[float, float]], fired: float | None, settled: float | None
) -> None:
    time_s, temperature_c = ([pair[i] for pair in pairs] for i in (0, 1))
    run = {"kind": "practice", "readings": {"time_s": time_s, "temperature_c": temperature_c}}
    run |= {"fired_at_s": fired, "settled_at_s": settled}
    try:
        result = reduce_run(RunInputs.from_dict(run)).as_dict()
    except ReductionError as refusal:
        assert refusal.sentence.endswith(".")
        return
    json.dumps(result, allow_nan=False)
    for rise in result["rise"].values():
        assert rise["rise_k"] is not None or str(rise["why"]).endswith(".")

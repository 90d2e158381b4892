"""What must hold for every history of a bench, whatever its values."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reduction.drift import Judgement, Phase, Rules, Scatter, find_break, judge

POOL = Scatter(30.0, 20.0)
PLAIN = Rules(indifference=0.0, floor=0.0)

quick = settings(max_examples=60, deadline=None)
histories = st.lists(st.integers(9700, 10300).map(float), max_size=25)
flagged = st.lists(st.tuples(st.integers(9700, 10300).map(float), st.booleans()), max_size=25)


def assert_same(one: Judgement, other: Judgement, shift: float = 0.0, factor: float = 1.0) -> None:
    assert one.states == other.states and one.beyond.tolist() == other.beyond.tolist()
    for name in ("centre", "lower", "upper", "ewma", "ewma_lower", "ewma_upper"):
        expected = factor * getattr(one, name) + shift
        assert getattr(other, name) == pytest.approx(expected, rel=1e-9, nan_ok=True)


@quick
@given(histories, st.integers(-5000, 5000))
def test_adding_a_constant_changes_no_state(values: list[float], shift: int) -> None:
    shifted = [value + shift for value in values]
    assert_same(
        judge(Phase(values, pool=POOL), PLAIN), judge(Phase(shifted, pool=POOL), PLAIN), shift
    )


@quick
@given(histories, st.sampled_from([0.001, 0.25, 3.0, 4184.0]))
def test_another_unit_changes_no_state(values: list[float], factor: float) -> None:
    scaled = [value * factor for value in values]
    one = judge(Phase(values, pool=POOL))
    assert_same(one, judge(Phase(scaled, pool=POOL.scaled(factor))), factor=factor)


@quick
@given(histories)
def test_up_and_down_are_treated_alike(values: list[float]) -> None:
    one = judge(Phase(values, pool=POOL), PLAIN)
    other = judge(Phase([20000.0 - value for value in values], pool=POOL), PLAIN)
    assert one.states == other.states and (one.beyond == -other.beyond).all()
    assert other.upper == pytest.approx(20000.0 - one.lower, nan_ok=True)


@quick
@given(flagged, st.randoms(use_true_random=False))
def test_the_order_of_excluded_values_does_not_matter(
    history: list[tuple[float, bool]], random
) -> None:
    values = np.array([value for value, _ in history])
    excluded = np.array([flag for _, flag in history], dtype=bool)
    shuffled, left_out = values.copy(), values[excluded].tolist()
    random.shuffle(left_out)
    shuffled[excluded] = left_out
    one, other = (judge(Phase(x, excluded, pool=POOL)) for x in (values, shuffled))
    assert one.states == other.states and one.baseline == other.baseline
    assert np.array_equal(one.ewma, other.ewma, equal_nan=True)


@quick
@given(flagged)
def test_excluded_values_change_nothing_for_the_others(history: list[tuple[float, bool]]) -> None:
    values = np.array([value for value, _ in history])
    excluded = np.array([flag for _, flag in history], dtype=bool)
    judged, alone = (
        judge(Phase(values, excluded, pool=POOL)),
        judge(Phase(values[~excluded], pool=POOL)),
    )
    kept = [state for state, flag in zip(judged.states, excluded, strict=True) if not flag]
    assert tuple(kept) == alone.states and judged.baseline == alone.baseline


@quick
@given(histories, st.integers(0, 25))
def test_no_value_is_judged_by_what_came_later(values: list[float], count: int) -> None:
    whole, begun = judge(Phase(values, pool=POOL)), judge(Phase(values[:count], pool=POOL))
    assert whole.states[:count] == begun.states
    assert np.array_equal(whole.upper[:count], begun.upper, equal_nan=True)


@quick
@given(histories.filter(lambda values: len(values) >= 4), st.integers(-5000, 5000))
def test_a_break_moves_with_its_series(values: list[float], shift: int) -> None:
    one, other = (find_break([x + s for x in values], POOL) for s in (0, shift))
    assert one.kind == other.kind and one.step is not None and other.step is not None
    assert other.step.size == pytest.approx(one.step.size, abs=1e-6)
    assert other.step.probability == pytest.approx(one.step.probability, abs=1e-9)


@quick
@given(histories.filter(lambda values: len(values) >= 4))
def test_a_break_up_is_a_break_down_upside_down(values: list[float]) -> None:
    one, other = (find_break([sign * x for x in values], POOL) for sign in (1.0, -1.0))
    assert one.step is not None and other.step is not None
    assert other.step.size == pytest.approx(-one.step.size, abs=1e-6)
    assert other.step.size_upper == pytest.approx(-one.step.size_lower, abs=1e-6)

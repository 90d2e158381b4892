"""All benches or one: accounts by hand, and by simulation with a known truth."""

from collections import Counter
from collections.abc import Callable

import numpy as np
import pytest
from scipy import stats

from reduction.drift import Change, Scatter, change_across, change_along, common_cause

SCATTER = Scatter(30.0, 40.0)
U = 0.002


def changes(*fractions: float) -> dict[str, Change | None]:
    return {f"B{i}": Change(fraction, U) for i, fraction in enumerate(fractions, start=1)}


def simulated(shifts: list[float]) -> Counter[str]:
    """Kinds found in 300 laboratories of six benches, six values before and three after."""
    rng = np.random.default_rng(31)
    days, kinds = np.arange(9.0), Counter[str]()
    for _ in range(300):
        values = 10_000.0 + 30.0 * rng.standard_normal((len(shifts), 9))
        values[:, 6:] += np.array(shifts)[:, None]
        across = {str(i): change_across(x, days, 5.0, 6.0, SCATTER) for i, x in enumerate(values)}
        kinds[common_cause(across).kind] += 1
    return kinds


def test_the_change_of_a_bench_by_hand() -> None:
    # Means 10 000 and 10 100, u = 30·√(1/2 + 1/4).
    values = [9990.0, 10_010.0, 10_500.0, 10_100.0, 10_080.0, 10_120.0, 10_100.0]
    days = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0]
    change = change_across(values, days, 2.0, 4.0, SCATTER)
    assert change is not None
    assert change.fraction == pytest.approx(0.01)
    assert change.u == pytest.approx(30.0 * 0.75**0.5 / 10_000.0)


def test_values_excluded_or_far_off_make_no_level() -> None:
    values, days = [5000.0, 10_000.0, 7000.0, 10_100.0, 20_000.0], [0.0, 90.0, 95.0, 100.0, 300.0]
    excluded = [False, False, True, False, False]
    change = change_across(values, days, 95.0, 100.0, SCATTER, excluded, reach_days=30.0)
    assert change is not None and change.fraction == pytest.approx(0.01)


def test_a_break_within_one_day_parts_the_days_after_from_it() -> None:
    change = change_across([10_000.0, 10_000.0, 10_100.0], [1.0, 2.0, 3.0], 2.0, 2.0, SCATTER)
    assert change is not None and change.fraction == pytest.approx(0.01)


def test_a_bench_without_values_on_one_side_has_no_change() -> None:
    assert change_across([10.0, 11.0], [1.0, 2.0], 2.0, 3.0, SCATTER) is None


def test_all_together_points_at_what_they_share() -> None:
    found = common_cause(changes(0.010, 0.012, 0.011, 0.009, 0.010, 0.008))
    assert found.kind == "all" and len(found.moved) == 6
    # Six equal uncertainties: the mean, ± 1.96·0.002/√6.
    assert found.size == pytest.approx(0.010)
    assert found.upper == pytest.approx(0.010 + 1.96 * U / 6**0.5)
    assert found.reason == (
        "All 6 benches moved together, by +1.00 % (95 % interval +0.84 % to +1.16 %). Look at what "
        "they share: the lot of the standard, the titrant, the fuse."
    )


def test_one_alone_points_at_that_bench() -> None:
    found = common_cause(changes(0.001, -0.001, 0.0, -0.012, 0.002, -0.002))
    assert (found.kind, found.moved, found.size) == ("one", ("B4",), pytest.approx(-0.012))
    assert found.reason == (
        "Only B4 moved, by −1.20 % (95 % interval −1.59 % to −0.81 %); the other 5 by +0.00 % "
        "(95 % interval −0.18 % to +0.18 %). Look at that bench."
    )


def test_several_are_named_each_with_its_change() -> None:
    found = common_cause(changes(0.001, -0.014, 0.0, 0.012))
    assert (found.kind, found.moved, found.size) == ("several", ("B2", "B4"), None)
    assert found.reason.startswith("2 of 4 benches moved, not all alike: B2 by −1.40 %, B4 by +1.2")


def test_none_says_what_would_not_be_seen() -> None:
    found = common_cause(changes(0.001, -0.001, 0.0, 0.0005))
    assert (found.kind, found.moved) == ("none", ())
    assert "below 0.60 % would not be seen" in found.reason


def test_what_lies_between_two_accounts_stays_open() -> None:
    found = common_cause(changes(0.006, 0.002))
    assert (found.kind, found.moved) == ("cannot tell", ())
    assert "make a check run on another bench" in found.reason


def test_benches_without_values_are_left_out_by_name() -> None:
    found = common_cause({**changes(0.011, 0.010, 0.0105), "B9": None})
    assert found.kind == "all" and found.left_out == ("B9",)
    alone = common_cause({**changes(0.011), "B9": None})
    assert (alone.kind, alone.left_out) == ("cannot tell", ("B9",))


@pytest.mark.parametrize(
    ("shifts", "kind", "share"),
    [
        ([90.0] * 6, "all", 0.95),
        ([0.0] * 5 + [120.0], "one", 0.93),
        ([0.0] * 4 + [150.0, -150.0], "several", 0.95),
        ([0.0] * 6, "none", 0.65),
    ],
)
def test_the_right_account_wins(shifts: list[float], kind: str, share: float) -> None:
    assert simulated(shifts)[kind] > share * 300


def test_an_unchanged_laboratory_is_rarely_blamed() -> None:
    kinds = simulated([0.0] * 6)
    assert kinds["all"] + kinds["one"] + kinds["several"] < 0.1 * 300


def test_a_slow_change_is_the_slope_over_the_span() -> None:
    # 10 J/K a day over 6 days, by scipy's own straight line; u = 30·6/√Σt², Σt² = 28.
    days = np.arange(7.0)
    values = 10_000.0 + 10.0 * days + np.array([5.0, -3.0, 0.0, 2.0, -4.0, 1.0, -1.0])
    found = change_along(values, days, 0.0, 6.0, SCATTER)
    assert found is not None
    assert found.fraction == pytest.approx(
        6.0 * stats.linregress(days, values).slope / values.mean()
    )
    assert found.u == pytest.approx(30.0 * 6.0 / 28.0**0.5 / values.mean())


def test_a_step_between_two_levels_is_no_slow_change() -> None:
    days = np.arange(8.0)
    values = np.where(days < 4.0, 10_000.0, 10_500.0)
    found = change_along(values, days, 0.0, 6.0, SCATTER, levels=days < 4.0)
    assert found is not None and found.fraction == pytest.approx(0.0)
    # Two levels of four and three values: Σt² = 5 + 2.
    assert found.u == pytest.approx(30.0 * 6.0 / 7.0**0.5 / values[:7].mean())


def test_values_excluded_or_outside_the_time_have_no_slope() -> None:
    values, days = [9000.0, 10_000.0, 12_000.0, 10_020.0, 10_030.0, 9000.0], np.arange(6.0)
    excluded = [False, False, True, False, False, False]
    found = change_along(values, days, 1.0, 4.0, SCATTER, excluded)
    assert found is not None
    assert found.fraction == pytest.approx(30.0 / np.mean([10_000.0, 10_020.0, 10_030.0]))


def test_too_short_a_stretch_says_nothing_of_a_slow_change() -> None:
    assert change_along([1e4, 1e4, 1e4], [0.0, 1.0, 2.0], 0.0, 7.0, SCATTER) is None
    assert change_along([1e4], [0.0], 0.0, 5.0, SCATTER) is None
    assert change_along([], [], 0.0, 5.0, SCATTER) is None


@pytest.mark.parametrize("change", [change_across, change_along])
def test_days_out_of_order_are_refused(change: Callable[..., Change | None]) -> None:
    with pytest.raises(ValueError, match="two days in order"):
        change([1.0, 2.0], [1.0, 2.0], 3.0, 2.0, SCATTER)

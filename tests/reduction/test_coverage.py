"""A small, seeded part of the coverage study: known truth, stated intervals, the tool's own bias.

The whole study is `python tests/speed/coverage_table.py`.
"""

import pytest

from tests.speed.coverage_table import METHODS, Summary, study


@pytest.fixture(scope="module")
def groups() -> dict[str, dict[str, Summary]]:
    return study(400, seed=20)


def group(groups: dict[str, dict[str, Summary]], *words: str) -> dict[str, Summary]:
    return next(methods for name, methods in groups.items() if all(word in name for word in words))


def test_intervals_hold_the_truth_about_95_times_in_100(
    groups: dict[str, dict[str, Summary]],
) -> None:
    # Sampling error of a coverage from 70 to 140 runs: 2 to 2.6 percent points.
    for methods in groups.values():
        for method in METHODS:
            if methods[method].met_runs >= 60:
                assert 88.0 <= methods[method].met_coverage_percent <= 100.0, method
    pooled = [methods[m] for methods in groups.values() for m in METHODS]
    runs = sum(s.met_runs for s in pooled)
    held = sum(s.met_runs * s.met_coverage_percent for s in pooled) / runs
    assert 93.0 <= held <= 97.5


def test_weak_leaks_leave_regnault_pfaundler_within_2_in_10000(
    groups: dict[str, dict[str, Summary]],
) -> None:
    weak = group(groups, "one or two exponentials", "up to")
    assert weak["regnault_pfaundler"].bias_95_percent <= 0.02


@pytest.mark.parametrize("leak", ["up to", "to 2"])
def test_the_heat_balance_fit_is_exact_for_the_releases_it_was_built_from(
    groups: dict[str, dict[str, Summary]], leak: str
) -> None:
    assert group(groups, "one or two exponentials", leak)["heat_balance"].bias_95_percent <= 0.001


@pytest.mark.parametrize("leak", ["leak up to", "s⁻¹"])
def test_the_heat_balance_fit_takes_other_shapes_nearly_as_well(
    groups: dict[str, dict[str, Summary]], leak: str
) -> None:
    found = group(groups, "other shapes", leak)["heat_balance"]
    assert found.within_002_percent >= 85.0


def test_straight_lines_fail_where_the_leak_is_strong(
    groups: dict[str, dict[str, Summary]],
) -> None:
    strong = group(groups, "one or two exponentials", "to 2")
    for method in ("fraction", "equal_areas"):
        assert strong[method].coverage_percent < 85.0
        assert strong[method].bias_95_percent > 0.2

"""Firing and end of the main period found from the readings."""

import numpy as np
import pytest

from reduction import ReductionError, simulate
from reduction.curvature import after_curvature
from reduction.notes import Thresholds
from reduction.periods import find_kink, find_periods
from reduction.rise import regnault_pfaundler
from reduction.thermogram import Periods, Thermogram, rate

LIMITS = Thresholds()


def thermogram(**firing: object) -> Thermogram:
    return Thermogram.of(*simulate.thermogram(simulate.Firing(**firing)))


@pytest.mark.parametrize(
    "firing",
    [
        {},
        {"cadence_s": 1.0, "noise_k": 0.001},
        {"cadence_s": 10.0, "noise_k": 0.02, "resolution_k": 0.1},
        {"cadence_s": 5.0, "noise_k": 0.002, "release_s": (60.0, 15.0)},
        {"cadence_s": 10.0, "noise_k": 0.001, "leak_per_s": 2e-4},
        {"cadence_s": ((60.0, 300.0), (15.0, 600.0), (60.0, 1200.0)), "noise_k": 0.001},
    ],
)
def test_the_firing_is_found_at_the_kink(firing: dict[str, object]) -> None:
    found = find_periods(thermogram(**firing))
    assert found.fired_at_s == pytest.approx(300.0, abs=10.0)
    assert "fired_at_s" in found.found
    assert any("Firing found" in sentence for sentence in found.why)


def test_a_flat_curve_has_no_kink() -> None:
    flat = thermogram(rise_k=0.0, noise_k=0.001)
    assert find_kink(flat, LIMITS) is None
    with pytest.raises(ReductionError, match="Mark the firing moment"):
        find_periods(flat)


@pytest.mark.parametrize(
    ("release", "leak", "noise"),
    [((42.0,), 3e-5, 0.0), ((42.0,), 3e-5, 0.001), ((60.0, 15.0), 5e-5, 0.0005)],
)
def test_the_settled_moment_leaves_no_bias_that_matters(
    release: tuple[float, ...], leak: float, noise: float
) -> None:
    curve = thermogram(
        cadence_s=5.0, release_s=release, leak_per_s=leak, noise_k=noise, end_s=1800.0
    )
    found = find_periods(curve, 300.0)
    bounds = (found.fore_from_s, 300.0, found.settled_at_s or np.nan, found.after_until_s)
    rise = regnault_pfaundler(rate(curve.time_s, curve.temperature_c, *bounds))
    assert rise == pytest.approx(2.5, rel=5e-4)
    # The release is over to e^(−6) at least, and no time is wasted either.
    assert 300.0 + 6 * max(release) < (found.settled_at_s or 0.0) < 300.0 + 14 * sum(release)


def test_what_is_given_is_kept() -> None:
    given = find_periods(thermogram(), 300.0, 700.0, 60.0, 1100.0)
    assert given == Periods(60.0, 300.0, 700.0, 1100.0)


@pytest.mark.parametrize("end", [360.0, 420.0, 500.0])
def test_readings_that_end_during_the_rise_have_no_after_period(end: float) -> None:
    found = find_periods(thermogram(end_s=end, cadence_s=5.0), 300.0)
    assert found.settled_at_s is None
    assert found.why[-1].startswith("No after period")


def test_an_after_period_begun_too_early_is_seen_to_curve() -> None:
    # The exact curve of true rise 2.5 K: at 10 min 2 mK are still to come, at 13 min 27 µK.
    early = after_curvature(thermogram(), Periods(0.0, 300.0, 600.0, 1200.0), LIMITS)
    late = after_curvature(thermogram(), Periods(0.0, 300.0, 780.0, 1200.0), LIMITS)
    assert early[1] and not late[1]


def test_the_bend_of_the_leak_itself_is_not_taken_for_curvature() -> None:
    cooling = thermogram(leak_per_s=1e-4, convergence_c=21.0, cadence_s=10.0, end_s=1800.0)
    edge, curved = after_curvature(cooling, Periods(0.0, 300.0, 900.0, 1800.0), LIMITS)
    assert abs(edge) < 2e-4 and not curved


@pytest.mark.parametrize("fired", [-100.0, 5000.0, 0.0, 1200.0])
def test_a_firing_outside_the_readings_is_refused_with_both_counts(fired: float) -> None:
    with pytest.raises(ReductionError, match="readings before and"):
        find_periods(thermogram(), fired)

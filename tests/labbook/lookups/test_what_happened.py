"""What happened to a bench that was called, and what the others did over the same time.

Values are invented; who moved is known, since the shifts are put in here.
"""

from __future__ import annotations

import numpy as np
import pytest
from django.utils import timezone

from labbook.actions.history import propose_break
from labbook.lookups.history import history_of
from labbook.lookups.what_happened import what_happened
from labbook.models import Standardization
from reduction.drift import CommonCause

from ..conftest import Laboratory, bench_with_configuration
from ..histories import SOUND, WEEK, approved_values


def test_what_happened_names_the_step_and_that_only_this_bench_moved(
    laboratory: Laboratory,
) -> None:
    for code in ("B3", "B4"):
        bench = bench_with_configuration(code, laboratory.coordinator)
        approved_values(laboratory, [*SOUND, *SOUND], bench=bench)
    approved_values(laboratory, SOUND, bench=laboratory.other_bench)
    moved = [1.012 * value for value in SOUND]
    made = approved_values(laboratory, [*SOUND, *moved])
    row, everyone = history_of(laboratory.bench, laboratory.coordinator)
    found = what_happened(row, everyone)
    assert found.found.kind == "step"
    assert found.earliest <= made[7].approved_at <= made[8].approved_at <= found.latest
    assert "stepped up" in found.found.reason and "95 % interval" in found.found.reason
    assert found.others.moved == ("bench B1",)
    assert {one.kind for one in found.nearby} <= {"parts", "service", "fault", "lot", "group"}


DRIFT = np.linspace(0.0, 0.015, 16)


def moved_with_a_drift(laboratory: Laboratory, drift_of_the_others: np.ndarray) -> CommonCause:
    """What is said of the others when one of five benches drifts by 1.5 % in 16 weeks."""
    for code in ("B3", "B4", "B5"):
        bench = bench_with_configuration(code, laboratory.coordinator)
        values = np.tile(SOUND, 2) * (1.0 + drift_of_the_others)
        approved_values(laboratory, values.tolist(), bench=bench)
    approved_values(laboratory, (np.tile(SOUND, 2) * (1.0 + DRIFT)).tolist())
    row, everyone = history_of(laboratory.bench, laboratory.coordinator)
    found = what_happened(row, everyone)
    assert found is not None and found.found.kind == "slow drift" and found.others is not None
    return found.others


def test_a_slow_drift_of_one_bench_is_told_from_the_others(laboratory: Laboratory) -> None:
    others = moved_with_a_drift(laboratory, np.zeros(16))
    assert (others.kind, others.moved) == ("one", ("bench B1",))
    assert others.size == pytest.approx(0.015, abs=0.003)
    # The bench without a value in that time has no say.
    assert others.left_out == (str(laboratory.other_bench),)


def test_benches_that_drift_alike_point_at_what_they_share(laboratory: Laboratory) -> None:
    others = moved_with_a_drift(laboratory, DRIFT)
    assert others.kind == "all" and len(others.moved) == 4


def test_a_step_of_another_bench_at_a_known_change_is_not_its_drift(laboratory: Laboratory) -> None:
    stepped = np.tile(SOUND, 2) * (1.0 + 0.012 * (np.arange(16) >= 8))
    approved_values(laboratory, stepped.tolist(), bench=laboratory.other_bench)
    at = timezone.now() - 7.5 * WEEK
    propose_break(laboratory.other_bench, at, "parts", "new head", by=laboratory.coordinator)
    others = moved_with_a_drift(laboratory, np.zeros(16))
    assert (others.kind, others.moved, others.left_out) == ("one", ("bench B1",), ())


def test_a_noisy_bench_is_not_said_to_have_moved(laboratory: Laboratory) -> None:
    noisy = 10_000.0 + 3.0 * np.array([60.0, 50.0, -55.0, 45.0, -60.0, 35.0, -50.0, 50.0])
    made = approved_values(laboratory, [*noisy, *noisy[2:], 10_200.0], bench=laboratory.other_bench)
    Standardization.objects.filter(pk__in=[one.pk for one in made]).update(approved_s_j_per_k=280.0)
    others = moved_with_a_drift(laboratory, np.zeros(16))
    assert (others.kind, others.moved, others.left_out) == ("one", ("bench B1",), ())

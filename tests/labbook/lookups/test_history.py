"""Histories: cut into phases, judged by all benches' scatter, read no further than is asked.

Values are invented; what a phase or a step must be follows from their arithmetic, done here anew.
"""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from labbook.actions.history import decide_break, exclude_point, freeze_limits, propose_break
from labbook.actions.standardizations import withdraw
from labbook.lookups.history import EVER, REACH, all_histories, histories, history_of
from labbook.lookups.judging import RULES
from labbook.lookups.points import runs_behind
from labbook.lookups.switches import switches
from labbook.lookups.wear import signs_of_wear
from labbook.lookups.what_happened import steps_across
from labbook.models import FrozenLimits, Standardization
from reduction.drift import Baseline, Scatter, false_alarm_rate, pooled, scatter_of_differences

from ..conftest import Laboratory, bench_with_configuration
from ..histories import SOUND, WEEK, approved_values, practice_group, with_runs

PARTS = "parts"


def cut(lab: Laboratory, weeks_ago: float) -> None:
    at = timezone.now() - weeks_ago * WEEK
    propose_break(lab.bench, at, PARTS, "new head", by=lab.coordinator)


def own(lab: Laboratory):
    return history_of(lab.bench, lab.coordinator)[0]


def test_one_phase_until_something_cuts_it(laboratory: Laboratory) -> None:
    approved_values(laboratory, SOUND)
    assert [phase.values for phase in own(laboratory).phases] == [list(SOUND)]
    cut(laboratory, 2.5)
    phases = own(laboratory).phases
    assert [phase.values for phase in phases] == [list(SOUND[:5]), list(SOUND[5:])]
    assert [phase.number for phase in phases] == [1, 2]


def test_a_merged_break_cuts_nothing(laboratory: Laboratory) -> None:
    approved_values(laboratory, SOUND)
    cut(laboratory, 2.5)
    decide_break(
        laboratory.bench.breaks.get(), "merged", "same mass of steel", by=laboratory.coordinator
    )
    assert [phase.values for phase in own(laboratory).phases] == [list(SOUND)]


def test_a_break_after_the_last_value_opens_an_empty_phase(laboratory: Laboratory) -> None:
    approved_values(laboratory, SOUND)
    cut(laboratory, 0)
    found = own(laboratory)
    assert found.now.values == [] and found.standing == "too few points"
    assert found.since == found.now.begins.at
    assert "No values in this phase yet" in found.reasons[0]


def test_practice_terms_are_in_no_history(laboratory: Laboratory) -> None:
    made = approved_values(laboratory, SOUND[:3])
    made[0].group = practice_group(laboratory)
    made[0].save()
    assert own(laboratory).now.values == list(SOUND[1:3])


def test_the_step_across_a_break_comes_with_its_interval(laboratory: Laboratory) -> None:
    approved_values(laboratory, SOUND, bench=laboratory.other_bench)
    approved_values(laboratory, [*SOUND[:4], *(1.012 * value for value in SOUND[4:])])
    cut(laboratory, 3.5)
    row, _ = history_of(laboratory.bench, laboratory.coordinator)
    step = steps_across(row)[0]
    before, after = np.mean(SOUND[:4]), 1.012 * np.mean(SOUND[4:])
    assert step.percent == pytest.approx(100 * (after / before - 1))
    # Standard uncertainty of the difference of two means of four: s·√(1/4 + 1/4).
    other = scatter_of_differences(np.array(SOUND) / np.mean(SOUND))
    u = 100 * other.sd * np.sqrt(0.5)
    assert 1.9 * u < step.half_width_percent < 4 * u
    assert step.percent - step.half_width_percent > 0


def test_a_jump_is_watched_then_out_of_line_and_says_since_when(laboratory: Laboratory) -> None:
    approved_values(laboratory, SOUND, bench=laboratory.other_bench)
    made = approved_values(laboratory, [*SOUND, 10_250.0, 10_260.0, 10_255.0])
    found = own(laboratory)
    assert [one.standing for one in found.judged[-4:]] == [
        "steady", "watch", "out of line", "out of line",
    ]  # fmt: skip
    assert (found.standing, found.since) == ("out of line", made[-2].approved_at)


def test_what_is_left_out_or_withdrawn_is_there_but_counts_for_nothing(
    laboratory: Laboratory,
) -> None:
    made = approved_values(laboratory, [*SOUND, 10_900.0, 10_800.0])
    exclude_point(made[-1], "soot in the crucible", by=laboratory.coordinator)
    withdraw(made[-2], "wrong lot", by=laboratory.coordinator)
    found = own(laboratory)
    assert found.now.values[-2:] == [10_900.0, 10_800.0]
    assert found.now.counted == list(SOUND)
    assert found.standing == "steady"
    assert found.points[-1].exclusion.cause == "soot in the crucible"


def test_frozen_limits_hold_to_the_last_digit_and_old_ones_stay(laboratory: Laboratory) -> None:
    approved_values(laboratory, SOUND, bench=laboratory.other_bench)
    approved_values(laboratory, SOUND, newest=timezone.now() - 3 * WEEK)
    first = freeze_limits(laboratory.bench, "term begins", by=laboratory.coordinator)
    kept = Baseline(first.n, first.mean_j_per_k, first.sd_j_per_k, first.degrees)
    assert kept.limits(RULES) == (first.lower_j_per_k, first.upper_j_per_k)
    approved_values(laboratory, [10_095.0, 10_105.0], newest=timezone.now() - WEEK)
    approved_values(laboratory, [9_000.0, 11_000.0], bench=laboratory.other_bench)
    for one in own(laboratory).judged[-2:]:
        assert (one.lower, one.upper) == (first.lower_j_per_k, first.upper_j_per_k)
    freeze_limits(laboratory.bench, "reviewed", by=laboratory.coordinator)
    assert [limits.reason for limits in FrozenLimits.objects.all()] == ["term begins", "reviewed"]
    assert FrozenLimits.objects.first().lower_j_per_k == first.lower_j_per_k


def test_the_scatter_of_the_other_benches_judges_a_bench_of_few_values(
    laboratory: Laboratory,
) -> None:
    approved_values(laboratory, SOUND[:3])
    # Runs that agree this well ask for no wider limits themselves.
    Standardization.objects.update(approved_s_j_per_k=1.0)
    assert own(laboratory).now.judgement.baseline.degrees == 2
    approved_values(laboratory, SOUND, bench=laboratory.other_bench)
    degrees = scatter_of_differences(np.array(SOUND)).degrees
    assert own(laboratory).now.judgement.baseline.degrees == pytest.approx(degrees + 2)


def test_reading_further_back_changes_no_judgement(laboratory: Laboratory) -> None:
    long_ago = timezone.now() - REACH - timedelta(days=400)
    approved_values(laboratory, [v + 300 for v in SOUND], newest=long_ago)
    approved_values(laboratory, [9_000.0, 11_000.0], bench=laboratory.other_bench, newest=long_ago)
    for bench in (laboratory.bench, laboratory.other_bench):
        at = timezone.now() - REACH - timedelta(days=200)
        propose_break(bench, at, PARTS, "moved", by=laboratory.coordinator)
        approved_values(laboratory, SOUND, bench=bench)
    usual, _ = history_of(laboratory.bench, laboratory.coordinator)
    whole, _ = history_of(laboratory.bench, laboratory.coordinator, EVER)
    assert [phase.number for phase in usual.phases] == [2]
    assert [phase.number for phase in whole.phases] == [1, 2]
    assert usual.judged == whole.judged[-len(SOUND) :]


def test_a_phase_that_began_before_the_reach_is_read_whole(laboratory: Laboratory) -> None:
    approved_values(laboratory, SOUND, newest=timezone.now() - REACH - 3 * WEEK)
    approved_values(laboratory, SOUND)
    assert own(laboratory).now.values == [*SOUND, *SOUND]


def test_groups_see_no_history(laboratory: Laboratory) -> None:
    with pytest.raises(PermissionDenied):
        histories(laboratory.group)
    with pytest.raises(PermissionDenied):
        history_of(laboratory.bench, laboratory.group)
    with pytest.raises(PermissionDenied):
        signs_of_wear(laboratory.group, laboratory.bench, EVER, timezone.now())


def test_more_benches_and_more_values_take_no_more_queries(laboratory: Laboratory) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            all_histories()
        return len(caught)

    approved_values(laboratory, SOUND)
    few = queries()
    for code in ("B3", "B4", "B5", "B6"):
        bench = bench_with_configuration(code, laboratory.coordinator)
        approved_values(laboratory, [*SOUND, *SOUND], bench=bench)
    assert queries() == few


def test_runs_behind_a_point_come_with_the_c_it_was_approved_from(laboratory: Laboratory) -> None:
    made = approved_values(laboratory, SOUND[:1])[0]
    with_runs(made, (10_080.0, 10_090.0))
    found = runs_behind(own(laboratory).points)[made.pk]
    assert [(run.replicate, run.c_j_per_k) for run in found] == [(1, 10_080.0), (2, 10_090.0)]


def test_signs_of_wear_are_those_of_the_runs_in_that_time(laboratory: Laboratory) -> None:
    old, new = approved_values(laboratory, SOUND[:2])
    with_runs(old, (10_080.0,), noise_k=0.001)
    with_runs(
        new, (10_090.0,), noise_k=0.002, fore_drift_k_per_s=1e-5, after_drift_k_per_s=-2e-5,
        time_to_95_s=180.0,
    )  # fmt: skip
    since, until = timezone.now() - timedelta(days=2), timezone.now()
    (found,) = signs_of_wear(laboratory.assistant, laboratory.bench, since, until)
    assert (found.noise_mk, found.time_to_95) == (2.0, 180.0)
    # 1 K/s = 1000 mK in 1/60 min.
    assert found.fore_drift_mk_per_min == pytest.approx(0.6)
    assert found.after_drift_mk_per_min == pytest.approx(-1.2)
    assert len(signs_of_wear(laboratory.assistant, laboratory.bench, EVER, until)) == 2


def test_switches_state_the_false_alarms_for_the_baseline_there_is(laboratory: Laboratory) -> None:
    approved_values(laboratory, SOUND[:2])
    assert [switch.percent for switch in switches(own(laboratory).now)] == [None] * 4
    approved_values(laboratory, SOUND[:3], newest=timezone.now() - 5 * WEEK)
    found = {switch.key: switch for switch in switches(own(laboratory).now)}
    assert found["individuals"].n == 5
    assert found["individuals"].percent == pytest.approx(100 * false_alarm_rate("individuals", 5))


def test_scatter_of_runs_is_pooled_over_the_standardizations(laboratory: Laboratory) -> None:
    approved_values(laboratory, SOUND[:2])
    # Two standard deviations of 20 J/K with two degrees each pool to 20 J/K; one degree a group.
    assert pooled([Scatter(20.0, 2)] * 2).sd == pytest.approx(20.0)
    found = own(laboratory).now.of_runs
    assert (found.sd, found.degrees) == (pytest.approx(20.0), 2)

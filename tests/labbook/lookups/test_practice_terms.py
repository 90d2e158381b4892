"""A practice term's invented readings: in no chart, no count, no heat capacity anybody uses."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from django.utils import timezone

from labbook.actions import runs
from labbook.actions import standardizations as standardization_actions
from labbook.actions.samples import issue_sample
from labbook.lookups.history import all_histories
from labbook.lookups.points import points_since
from labbook.lookups.practice import is_of_practice
from labbook.lookups.predictions import usual_capacity
from labbook.lookups.services import counted_firings
from labbook.lookups.standardizations import (
    approval_in_force,
    approvals_in_force,
    approved_outside,
    summary_of,
)
from labbook.lookups.wear import signs_of_wear
from labbook.lookups.what_happened import _recorded
from labbook.models import PhaseBreak, Role, Sample, Standardization
from labbook.problems import Refused

from ..conftest import Laboratory, account, approved, put_forward
from ..histories import SOUND, approved_values, practice_group, with_runs


def in_training(lab: Laboratory) -> Laboratory:
    """The same bench as a group of a practice term has it, with the same TA."""
    group = practice_group(lab)
    group.section.assistants.add(lab.assistant)
    sample = Sample.objects.create(
        term=group.section.term, label="P-1", substance=lab.sample.substance, max_charge_g="0.7"
    )
    member = account("p1", Role.GROUP, group=group)
    issue_sample(sample, group, by=lab.assistant)
    group.memberships.create(person=lab.person, since=timezone.localdate())
    return replace(lab, group=member, sample=sample, term=group.section.term)


def of_practice(lab: Laboratory, values: tuple[float, ...]) -> list[Standardization]:
    """Approved values of a practice term, with runs behind the newest."""
    made, group = approved_values(lab, values), practice_group(lab)
    for one in made:
        one.group = group
        one.save()
    with_runs(made[-1], (12_000.0, 12_010.0), noise_k=0.001)
    return made


def test_its_runs_and_values_are_in_no_chart_and_no_count(laboratory: Laboratory) -> None:
    of_practice(laboratory, SOUND)
    bench, now = laboratory.bench, timezone.now()
    assert points_since({bench.pk: None})[bench.pk] == []
    assert all(history.points == [] for history in all_histories())
    assert not counted_firings().exists()
    month = timedelta(days=30)
    assert signs_of_wear(laboratory.coordinator, bench, now - month, now + month) == []


def test_it_moves_no_other_benchs_scatter(laboratory: Laboratory) -> None:
    approved_values(laboratory, SOUND, bench=laboratory.other_bench)
    before = [str(history.now.judgement) for history in all_histories()]
    of_practice(laboratory, (9_000.0, 12_000.0, 10_000.0, 15_000.0))
    assert [str(history.now.judgement) for history in all_histories()] == before


def test_its_approval_serves_its_own_groups_and_no_others(laboratory: Laboratory) -> None:
    training = in_training(laboratory)
    made = approved(training)
    bench = laboratory.bench
    assert approval_in_force(bench) is None and not approvals_in_force().exists()
    assert approval_in_force(bench, of_practice=True) == made
    with pytest.raises(Refused, match="no approved standardization in force"):
        runs.open_unknown_run(bench, laboratory.sample, by=laboratory.group)
    unknown = runs.open_unknown_run(bench, training.sample, by=training.group)
    assert unknown.rests_on == made


def test_a_course_approval_is_not_used_for_training_either(laboratory: Laboratory) -> None:
    approved(laboratory)
    training = in_training(laboratory)
    with pytest.raises(Refused, match="no approved standardization in force"):
        runs.open_unknown_run(laboratory.bench, training.sample, by=training.group)


def test_no_prediction_rests_on_invented_values(laboratory: Laboratory) -> None:
    of_practice(laboratory, SOUND)
    assert usual_capacity(laboratory.bench) is None
    approved_values(laboratory, (10_100.0,))
    found = usual_capacity(laboratory.bench)
    assert found is not None and found.j_per_k == 10_100.0


def test_it_is_nothing_that_happened_to_the_bench(laboratory: Laboratory) -> None:
    made = of_practice(laboratory, SOUND)
    around = made[-1].opened_at - timedelta(days=1), timezone.now()
    assert not list(_recorded(laboratory.bench, *around))


def test_nobody_is_told_of_a_practice_value_outside_a_history(laboratory: Laboratory) -> None:
    made = of_practice(laboratory, (15_000.0,))[0]
    made.was_outside = True
    made.save()
    assert not approved_outside(laboratory.coordinator).exists()


def test_approving_it_cuts_no_history(laboratory: Laboratory) -> None:
    approved(laboratory)
    training = in_training(laboratory)
    found = put_forward(training)
    lot = found.runs.first().standard_lot
    assert lot is not None
    lot.pk, lot.code, lot.basis = None, "S2", "air"
    lot._state.adding = True
    lot.save()
    found.runs.update(standard_lot=lot)
    seen = summary_of(found).seen
    standardization_actions.approve(found, by=training.assistant, seen=seen, reason="a try-out")
    assert not PhaseBreak.objects.exists()


def test_what_belongs_to_no_term_is_of_no_practice_term(laboratory: Laboratory) -> None:
    assert not is_of_practice(laboratory.bench) and not is_of_practice(None)
    training = in_training(laboratory)
    assert all(
        is_of_practice(one) for one in (training.group.group, training.term, training.sample)
    )

"""The same run reduced by two processes in the same moment: one result, and both are answered."""

from __future__ import annotations

import pytest

from labbook.actions import rereductions, runs, sheets
from labbook.actions.reductions import is_of
from labbook.lookups.chain import verify_evidence
from labbook.lookups.inputs import inputs_of
from labbook.lookups.outputs import compute
from labbook.lookups.readings import readings_of
from labbook.lookups.sheets import Sheet
from labbook.models import Rereduction, Run
from labbook.problems import Refused

from ..actions.test_two_at_once import at_once
from ..conftest import AFTER_FIRING, Laboratory, completed, curve, fill_in, fired, hand_in


def opened(lab: Laboratory) -> Run:
    return runs.open_standardization_run(lab.bench, by=lab.group)


def burned(lab: Laboratory) -> Run:
    """A run with all its figures and readings, not yet complete."""
    run = fired(opened(lab), lab)
    fill_in(run, AFTER_FIRING, lab.group)
    hand_in(run, curve(), lab.group)
    return run


def test_the_same_figure_saved_twice_at_once_makes_one_result(
    transactional_db: None, laboratory: Laboratory
) -> None:
    run = burned(laboratory)
    before = run.results.count()

    def enter() -> object:
        own = Run.objects.get(pk=run.pk)
        return sheets.enter_figure(own, "titre_ml", "8.1", by=laboratory.group)

    first, second = at_once(enter, enter)
    assert first == second and not isinstance(first, Refused)
    assert run.results.count() == before + 1
    run.refresh_from_db()
    assert run.result == run.results.first()
    assert verify_evidence().is_whole


def test_two_figures_saved_at_once_both_count_in_the_newest_result(
    transactional_db: None, laboratory: Laboratory
) -> None:
    run = burned(laboratory)

    def enter(key: str, text: str) -> object:
        return sheets.enter_figure(Run.objects.get(pk=run.pk), key, text, by=laboratory.group)

    at_once(lambda: enter("titre_ml", "8.1"), lambda: enter("fuse_left", "3.0"))
    run.refresh_from_db()
    assert run.result is not None
    assert is_of(run.result, inputs_of(run, Sheet(run), readings_of(run)))
    assert run.result.inputs["acid"]["titre_ml"] == 8.1


def test_of_two_who_complete_a_run_one_is_told_that_it_is_complete(
    transactional_db: None, laboratory: Laboratory
) -> None:
    run = burned(laboratory)
    given = at_once(
        *[lambda: runs.complete_run(Run.objects.get(pk=run.pk), by=laboratory.group)] * 2
    )
    told = [str(one) for one in given if isinstance(one, Refused)]
    assert len(told) == 1 and "is complete already" in told[0]
    assert run.decisions.filter(deed="completed").count() == 1
    assert verify_evidence().is_whole


def applied(lab: Laboratory) -> Rereduction:
    """A plan over all finished runs, worked out and to be kept."""
    plan = rereductions.plan_rereduction({}, "to try it", by=lab.coordinator)
    rereductions.work_through(plan, most=10)
    return rereductions.apply_rereduction(plan, by=lab.coordinator)


def test_a_plan_worked_through_by_two_at_once_gives_a_run_one_new_result(
    transactional_db: None, laboratory: Laboratory, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = completed(opened(laboratory), laboratory)
    before = run.results.count()
    monkeypatch.setattr("reduction.__version__", "another")
    plan = applied(laboratory)

    def work() -> object:
        return rereductions.work_through(Rereduction.objects.get(pk=plan.pk), most=10)

    at_once(work, work)
    assert run.results.count() == before + 1
    assert verify_evidence().is_whole


def test_a_figure_saved_while_a_plan_is_worked_through_counts_in_the_new_result(
    laboratory: Laboratory,
) -> None:
    run = completed(opened(laboratory), laboratory)
    plan = applied(laboratory)
    item = plan.items.get()
    inputs = rereductions.inputs_for(item, plan)
    sheets.enter_figure(run, "titre_ml", "8.8", by=laboratory.group, reason="misread")
    rereductions.settle(item, plan, inputs, compute(inputs))
    run.refresh_from_db()
    assert run.result is not None
    assert run.result.inputs["acid"]["titre_ml"] == 8.8

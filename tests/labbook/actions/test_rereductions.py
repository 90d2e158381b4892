"""Reducing finished runs again: looked at first, kept run by run, old results untouched."""

import pytest

from labbook.actions import rereductions, setup
from labbook.lookups.rereductions import moves_of, pending, progress_of
from labbook.models import Method, Result, Run, StandardLot
from labbook.problems import Refused
from tests.labbook.conftest import Laboratory, standardized


@pytest.fixture
def runs(laboratory: Laboratory) -> list[Run]:
    return list(standardized(laboratory, (2.5, 2.505)).runs.order_by("pk"))


def new_certificate(lab: Laboratory, value: str) -> None:
    lot = StandardLot.objects.get(code="S1")
    lot.value_j_per_g = value
    setup.save_setup(lot, by=lab.coordinator)


def test_a_plan_moves_nothing_until_it_is_applied(laboratory: Laboratory, runs: list[Run]) -> None:
    new_certificate(laboratory, "26460")
    before = Result.objects.count()
    plan = rereductions.plan_rereduction({}, "new certificate", by=laboratory.coordinator)
    rereductions.work_through(plan, 10)
    # C is proportional to the charge's heat, all but 110 J of 26 236 J: +26/26434 of 99.6 %.
    percents = [m.percent for m in moves_of(plan) if m.words == "C"]
    assert percents == pytest.approx([100 * 26 / 26434 * 0.9958] * 2, abs=2e-4)
    assert Result.objects.count() == before


def test_applying_keeps_new_results_beside_the_old(laboratory: Laboratory, runs: list[Run]) -> None:
    old = {run.pk: (run.result_id, run.result.c_j_per_k) for run in runs}
    new_certificate(laboratory, "26460")
    plan = rereductions.plan_rereduction({}, "new certificate", by=laboratory.coordinator)
    rereductions.work_through(plan, 10)
    plan = rereductions.apply_rereduction(plan, by=laboratory.coordinator)
    rereductions.work_through(plan, 10)
    for run in Run.objects.all():
        kept_id, kept_c = old[run.pk]
        assert run.result_id != kept_id
        assert run.result.c_j_per_k > kept_c
        assert Result.objects.get(pk=kept_id).c_j_per_k == kept_c
        assert "new certificate" in run.result.reason


def test_an_interrupted_rereduction_goes_on_where_it_stopped(
    laboratory: Laboratory, runs: list[Run]
) -> None:
    new_certificate(laboratory, "26460")
    plan = rereductions.plan_rereduction({}, "new certificate", by=laboratory.coordinator)
    assert rereductions.work_through(plan, 1) == 1
    with pytest.raises(Refused, match="not worked out"):
        rereductions.apply_rereduction(plan, by=laboratory.coordinator)
    assert rereductions.work_through(plan, 10) == 1
    plan = rereductions.apply_rereduction(plan, by=laboratory.coordinator)
    assert rereductions.work_through(plan, 1) == 1
    assert (progress_of(plan).kept, pending(plan).count()) == (1, 1)


def test_nothing_changed_keeps_the_results_there_are(
    laboratory: Laboratory, runs: list[Run]
) -> None:
    before = Result.objects.count()
    plan = rereductions.plan_rereduction({}, "just to see", by=laboratory.coordinator)
    rereductions.work_through(plan, 10)
    plan = rereductions.apply_rereduction(plan, by=laboratory.coordinator)
    rereductions.work_through(plan, 10)
    assert moves_of(plan) == []
    assert Result.objects.count() == before


def test_another_method_is_written_into_the_runs(laboratory: Laboratory, runs: list[Run]) -> None:
    method = setup.keep_method(
        Method(name="first year", rise_method="equal_areas", correct_acid=False),
        by=laboratory.coordinator,
    )
    plan = rereductions.plan_rereduction(
        {}, "acid left out", by=laboratory.coordinator, method=method
    )
    rereductions.work_through(plan, 10)
    plan = rereductions.apply_rereduction(plan, by=laboratory.coordinator)
    rereductions.work_through(plan, 10)
    run = Run.objects.first()
    assert run is not None and run.method == method and run.result is not None
    assert run.result.outputs["rise_used"]["method"] == "equal_areas"


def test_only_a_coordinator_and_only_with_a_reason(laboratory: Laboratory, runs: list[Run]) -> None:
    with pytest.raises(Exception, match="may not"):
        rereductions.plan_rereduction({}, "curious", by=laboratory.assistant)
    with pytest.raises(Refused, match="Say why"):
        rereductions.plan_rereduction({}, " ", by=laboratory.coordinator)
    with pytest.raises(Refused, match="No completed run"):
        rereductions.plan_rereduction({"bench": "B2"}, "x", by=laboratory.coordinator)

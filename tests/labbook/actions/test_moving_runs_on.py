"""Completing, misfires, setting aside, taking up and signing."""

import pytest
from django.core.exceptions import PermissionDenied

from labbook.actions import misfires, runs, standardizations
from labbook.lookups.standardizations import summary_of
from labbook.models import Decision, Run
from labbook.problems import Refused

from ..conftest import (
    AFTER_FIRING,
    Laboratory,
    approved,
    completed,
    curve,
    fill_in,
    fired,
    hand_in,
    ready_to_fire,
    standardized,
)


@pytest.fixture
def run(laboratory: Laboratory) -> Run:
    return runs.open_standardization_run(laboratory.bench, by=laboratory.group)


def test_completing_needs_readings_a_firing_and_somebody_present(
    laboratory: Laboratory, run: Run
) -> None:
    with pytest.raises(Refused) as refusal:
        runs.complete_run(run, by=laboratory.group)
    codes = {problem.code for problem in refusal.value.problems}
    assert codes == {"missing", "not fired", "no readings", "nobody present"}


def test_more_wire_left_than_there_was_blocks_completing(laboratory: Laboratory, run: Run) -> None:
    fired(run, laboratory)
    hand_in(run, curve(), laboratory.group)
    fill_in(run, AFTER_FIRING | {"fuse_left": "10.4"}, laboratory.group)
    with pytest.raises(Refused, match=r"Wire left \(10.4 cm\) exceeds"):
        runs.complete_run(run, by=laboratory.group)


def test_a_run_is_completed_once(laboratory: Laboratory, run: Run) -> None:
    completed(run, laboratory)
    with pytest.raises(Refused, match="is complete already"):
        runs.complete_run(run, by=laboratory.group)


def test_a_strangers_run_is_not_theirs_to_complete(laboratory: Laboratory, run: Run) -> None:
    for who in (laboratory.stranger, laboratory.other_assistant, laboratory.coordinator):
        with pytest.raises(PermissionDenied):
            runs.complete_run(run, by=who)


def test_a_misfire_is_set_aside_by_the_group_and_still_counts(
    laboratory: Laboratory, run: Run
) -> None:
    run = misfires.report_misfire(fired(run, laboratory), "did not light", by=laboratory.group)
    assert (run.state, run.cause) == (Run.State.SET_ASIDE, Run.Cause.MISFIRE)
    assert run.fired_at is not None
    assert Run.objects.filter(fired_at__isnull=False).count() == 1


def test_only_a_firing_can_be_a_misfire(laboratory: Laboratory, run: Run) -> None:
    ready_to_fire(run, laboratory)
    with pytest.raises(Refused, match="a misfire is a firing that did not light"):
        misfires.report_misfire(run, "", by=laboratory.group)


def test_a_run_is_set_aside_for_a_cause_from_the_list(laboratory: Laboratory, run: Run) -> None:
    with pytest.raises(Refused, match="Choose why"):
        runs.set_run_aside(run, "bad luck", "", by=laboratory.assistant)
    with pytest.raises(Refused, match="needs a remark"):
        runs.set_run_aside(run, Run.Cause.OTHER, " ", by=laboratory.assistant)
    run = runs.set_run_aside(run, Run.Cause.SOOT, "much soot", by=laboratory.assistant)
    assert (run.state, run.cause) == (Run.State.SET_ASIDE, Run.Cause.SOOT)
    with pytest.raises(Refused, match="set aside already, for soot"):
        runs.set_run_aside(run, Run.Cause.LEAK, "", by=laboratory.assistant)


@pytest.mark.parametrize("who", ["group", "other_assistant", "stranger"])
def test_setting_aside_is_for_the_sections_staff(
    laboratory: Laboratory, run: Run, who: str
) -> None:
    with pytest.raises(PermissionDenied):
        runs.set_run_aside(run, Run.Cause.SOOT, "", by=getattr(laboratory, who))


def test_a_run_set_aside_leaves_the_mean_but_not_the_set(laboratory: Laboratory) -> None:
    found = standardized(laboratory)
    runs.set_run_aside(found.runs.first(), Run.Cause.SOOT, "", by=laboratory.assistant)
    summary = summary_of(found)
    assert (len(summary.runs), summary.n) == (3, 2)


def test_taking_up_brings_a_run_back_where_it_was(laboratory: Laboratory, run: Run) -> None:
    runs.set_run_aside(completed(run, laboratory), Run.Cause.SPILL, "", by=laboratory.assistant)
    with pytest.raises(Refused, match="why the run is taken up"):
        runs.take_run_up(run, "", by=laboratory.assistant)
    run = runs.take_run_up(run, "the spill was small", by=laboratory.assistant)
    assert (run.state, run.cause) == (Run.State.COMPLETE, "")
    with pytest.raises(Refused, match="only a signed or set-aside run"):
        runs.take_run_up(run, "again", by=laboratory.assistant)


def test_a_misfire_taken_up_is_fired_again_not_open(laboratory: Laboratory, run: Run) -> None:
    run = misfires.report_misfire(fired(run, laboratory), "", by=laboratory.group)
    assert runs.take_run_up(run, "it did light", by=laboratory.assistant).state == Run.State.FIRED


def test_runs_of_an_approval_stay_until_it_is_withdrawn(laboratory: Laboratory) -> None:
    found = approved(laboratory)
    run = found.runs.get(replicate=1)
    with pytest.raises(Refused, match="Withdraw the approval first"):
        runs.set_run_aside(run, Run.Cause.SOOT, "", by=laboratory.assistant)
    run = runs.sign_run(run, by=laboratory.assistant)
    with pytest.raises(Refused, match="Withdraw the approval first"):
        runs.take_run_up(run, "to correct it", by=laboratory.assistant)
    standardizations.withdraw(found, "soot after all", by=laboratory.assistant)
    assert runs.set_run_aside(run, Run.Cause.SOOT, "", by=laboratory.assistant).cause == "soot"


def test_only_a_complete_run_is_signed_and_by_its_staff(laboratory: Laboratory, run: Run) -> None:
    with pytest.raises(Refused, match="only a complete run can be signed"):
        runs.sign_run(run, by=laboratory.assistant)
    completed(run, laboratory)
    with pytest.raises(PermissionDenied):
        runs.sign_run(run, by=laboratory.group)
    with pytest.raises(PermissionDenied):
        runs.sign_run(run, by=laboratory.other_assistant)
    run = runs.sign_run(run, by=laboratory.assistant)
    assert (run.state, run.signed_by) == (Run.State.SIGNED, laboratory.assistant)


def test_every_move_is_written_down_with_old_and_new(laboratory: Laboratory, run: Run) -> None:
    completed(run, laboratory)
    runs.sign_run(run, by=laboratory.assistant)
    moves = [(d.deed, d.old, d.new) for d in run.decisions.all()]
    assert moves == [
        (Decision.Deed.OPENED, "", "open"),
        (Decision.Deed.FIRED, "open", "fired"),
        (Decision.Deed.COMPLETED, "fired", "complete"),
        (Decision.Deed.SIGNED, "complete", "signed"),
    ]


def test_a_reason_longer_than_is_kept_is_refused(laboratory: Laboratory, run: Run) -> None:
    with pytest.raises(Refused, match="401 characters were typed; at most 400"):
        runs.set_run_aside(run, Run.Cause.SOOT, "x" * 401, by=laboratory.assistant)
    with pytest.raises(Refused, match="zero byte"):
        runs.set_run_aside(run, Run.Cause.SOOT, "so\0ot", by=laboratory.assistant)
    run.refresh_from_db()
    assert run.state == Run.State.OPEN

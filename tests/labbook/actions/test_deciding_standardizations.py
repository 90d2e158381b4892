"""Putting forward, approving, sending back, withdrawing: who may, on what, and who was first."""

from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from labbook.actions import runs, setup, sheets, standardizations
from labbook.lookups.standardizations import (
    approval_in_force,
    approvals_in_force,
    summary_of,
    visible_standardizations,
    waiting_for_decision,
)
from labbook.models import Method, Result, Run, Standardization
from labbook.problems import Refused

from ..conftest import (
    Laboratory,
    approved,
    colleague,
    completed,
    head_changed,
    put_forward,
    standardized,
    unknown,
)

State = Standardization.State


def seen(found: Standardization) -> str:
    return summary_of(found).seen


def test_one_run_is_too_few_to_put_forward(laboratory: Laboratory) -> None:
    found = standardized(laboratory, (2.5,))
    with pytest.raises(Refused, match="1 of at least 2 standardization runs count"):
        standardizations.put_forward(found, by=laboratory.group)


def test_an_unfinished_run_holds_the_set_back(laboratory: Laboratory) -> None:
    found = standardized(laboratory)
    runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    with pytest.raises(Refused, match="Run 4 is open: complete it, or have it set aside"):
        standardizations.put_forward(found, by=laboratory.group)


def test_a_run_without_a_value_holds_the_set_back(laboratory: Laboratory) -> None:
    found = standardized(laboratory)
    run = found.runs.get(replicate=2)
    sheets.enter_figure(run, "fired_at_s", "9000", by=laboratory.group, reason="slip")
    with pytest.raises(Refused, match="Run 2 gave no heat capacity"):
        standardizations.put_forward(found, by=laboratory.group)


@pytest.mark.parametrize("who", ["stranger", "assistant", "coordinator"])
def test_only_the_group_puts_its_set_forward_or_takes_it_back(
    laboratory: Laboratory, who: str
) -> None:
    found = standardized(laboratory)
    with pytest.raises(PermissionDenied):
        standardizations.put_forward(found, by=getattr(laboratory, who))
    standardizations.put_forward(found, by=laboratory.group)
    with pytest.raises(PermissionDenied):
        standardizations.take_back(found, by=getattr(laboratory, who))


@pytest.mark.parametrize("who", ["group", "stranger", "other_assistant"])
def test_neither_groups_nor_another_sections_ta_decide(laboratory: Laboratory, who: str) -> None:
    found, by = put_forward(laboratory), getattr(laboratory, who)
    with pytest.raises(PermissionDenied):
        standardizations.approve(found, by=by, seen=seen(found))
    with pytest.raises(PermissionDenied):
        standardizations.send_back(found, "no", by=by)
    with pytest.raises(PermissionDenied):
        standardizations.close_unfinished(found, "no", by=by)
    assert Standardization.objects.get().state == State.PUT_FORWARD


def test_another_sections_ta_sees_neither_set_nor_queue(laboratory: Laboratory) -> None:
    found = put_forward(laboratory)
    for who in (laboratory.other_assistant, laboratory.stranger):
        assert not visible_standardizations(who).exists()
        assert not waiting_for_decision(who).exists()
    assert list(waiting_for_decision(laboratory.assistant)) == [found]
    assert list(waiting_for_decision(laboratory.coordinator)) == [found]
    assert not waiting_for_decision(laboratory.group).exists()


def test_what_was_not_put_forward_is_not_approved(laboratory: Laboratory) -> None:
    found = standardized(laboratory)
    with pytest.raises(Refused, match="is gathering now"):
        standardizations.approve(found, by=laboratory.assistant, seen=seen(found))


def test_approval_freezes_mean_spread_and_the_results_it_rests_on(laboratory: Laboratory) -> None:
    found = approved(laboratory)
    values = [run.result.c_j_per_k for run in found.runs.all() if run.result]
    mean = sum(values) / 3
    s = (sum((value - mean) ** 2 for value in values) / 2) ** 0.5
    # Student's t, two-sided 95 %, 2 degrees of freedom: 4.303 (any printed table).
    assert found.approved_c_j_per_k == pytest.approx(mean)
    assert found.approved_half_width_j_per_k == pytest.approx(4.303 * s / 3**0.5, rel=1e-3)
    assert (found.approved_n, found.approved_results.count()) == (3, 3)
    lasts = timedelta(days=laboratory.method.approval_lasts_days)
    assert found.lapses_on == timezone.localdate() + lasts


def test_approving_what_has_changed_since_is_refused(laboratory: Laboratory) -> None:
    found = put_forward(laboratory)
    looked_at = seen(found)
    standardizations.take_back(found, by=laboratory.group)
    run = found.runs.get(replicate=1)
    sheets.enter_figure(run, "water_ml", "1.5", by=laboratory.group, reason="misread")
    standardizations.put_forward(found, by=laboratory.group)
    assert seen(found) != looked_at
    with pytest.raises(Refused, match="The runs changed after you opened this page"):
        standardizations.approve(found, by=laboratory.assistant, seen=looked_at)
    with pytest.raises(Refused, match="The runs changed after you opened this page"):
        standardizations.approve(found, by=laboratory.assistant, seen="")
    assert approval_in_force(laboratory.bench) is None


def test_setting_a_run_aside_meanwhile_counts_as_a_change(laboratory: Laboratory) -> None:
    found = put_forward(laboratory)
    looked_at = seen(found)
    runs.set_run_aside(found.runs.get(replicate=1), Run.Cause.SOOT, "", by=laboratory.coordinator)
    with pytest.raises(Refused, match="The runs changed"):
        standardizations.approve(found, by=laboratory.assistant, seen=looked_at)


def test_the_second_ta_is_told_who_decided_and_when(laboratory: Laboratory) -> None:
    found, second = put_forward(laboratory), colleague(laboratory)
    looked_at, theirs = seen(found), Standardization.objects.get()
    standardizations.approve(found, by=laboratory.assistant, seen=looked_at)
    at = timezone.localtime(found.decisions.last().at)
    told = f"is approved now by ta at {at:%H:%M}; nothing was changed"
    with pytest.raises(Refused, match=told):
        standardizations.send_back(theirs, "spread too wide", by=second)
    with pytest.raises(Refused, match=told):
        standardizations.approve(theirs, by=second, seen=looked_at)
    with pytest.raises(Refused, match=told):
        standardizations.take_back(theirs, by=laboratory.group)
    assert found.decisions.count() == 2


def test_nothing_is_approved_after_the_bench_was_changed(laboratory: Laboratory) -> None:
    found = put_forward(laboratory)
    head_changed(laboratory)
    with pytest.raises(Refused, match=r"“new head”.*standardize again"):
        standardizations.approve(found, by=laboratory.assistant, seen=seen(found))


def test_a_change_of_the_bench_ends_the_approval_in_force(laboratory: Laboratory) -> None:
    found = approved(laboratory)
    head_changed(laboratory)
    found.refresh_from_db()
    assert found.state == State.LAPSED and found.approval is not None
    assert approval_in_force(laboratory.bench) is None
    last = found.decisions.last()
    assert last is not None and (last.old, last.new, last.reason) == (
        "approved", "lapsed", "new head",
    )  # fmt: skip


def test_an_approval_of_other_parts_is_never_in_force(laboratory: Laboratory) -> None:
    found = approved(laboratory)
    head_changed(laboratory)
    Standardization.objects.filter(pk=found.pk).update(state=State.APPROVED)
    assert approval_in_force(laboratory.bench) is None
    assert not approvals_in_force().exists()


def test_sending_back_says_why_and_the_group_may_go_on(laboratory: Laboratory) -> None:
    found = put_forward(laboratory)
    with pytest.raises(Refused, match="Say what the group should look at"):
        standardizations.send_back(found, "", by=laboratory.assistant)
    found = standardizations.send_back(found, "look at run 2", by=laboratory.assistant)
    assert found.state == State.SENT_BACK
    completed(runs.open_standardization_run(laboratory.bench, by=laboratory.group), laboratory)
    assert standardizations.put_forward(found, by=laboratory.group).state == State.PUT_FORWARD
    assert summary_of(found).n == 4


def test_withdrawing_marks_dependents_and_changes_no_number(laboratory: Laboratory) -> None:
    run = completed(unknown(laboratory), laboratory, rise_k=2.31)
    found, before = run.rests_on, list(Result.objects.values())
    assert found is not None
    with pytest.raises(Refused, match="needs its reason"):
        standardizations.withdraw(found, " ", by=laboratory.assistant)
    standardizations.withdraw(found, "wrong lot", by=laboratory.assistant)
    run.refresh_from_db()
    assert run.rests_on is not None and run.rests_on.state == State.WITHDRAWN
    assert list(found.dependent_runs.all()) == [run]
    assert list(Result.objects.values()) == before
    assert run.rests_on.approved_c_j_per_k == found.approved_c_j_per_k
    with pytest.raises(Refused, match="only an approval is withdrawn"):
        standardizations.withdraw(found, "again", by=laboratory.assistant)


def test_a_later_correction_never_moves_what_was_approved(laboratory: Laboratory) -> None:
    found = approved(laboratory)
    frozen = found.approved_c_j_per_k
    standardizations.withdraw(found, "typing slip in run 1", by=laboratory.assistant)
    run = found.runs.get(replicate=1)
    with pytest.raises(Refused, match="is withdrawn, so its runs cannot change"):
        sheets.enter_figure(run, "water_ml", "2", by=laboratory.group, reason="slip")
    found.refresh_from_db()
    assert found.approved_c_j_per_k == frozen


def test_closing_a_set_lets_the_group_start_anew(laboratory: Laboratory) -> None:
    found = standardized(laboratory, (2.5,))
    with pytest.raises(Refused, match="Say why"):
        standardizations.close_unfinished(found, "", by=laboratory.assistant)
    standardizations.close_unfinished(found, "head changed", by=laboratory.assistant)
    with pytest.raises(Refused, match="is lapsed already"):
        standardizations.close_unfinished(found, "again", by=laboratory.assistant)
    again = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    assert again.standardization != found and again.replicate == 1


def test_a_changed_method_is_a_new_version_and_runs_keep_theirs(laboratory: Laboratory) -> None:
    run = completed(
        runs.open_standardization_run(laboratory.bench, by=laboratory.group), laboratory
    )
    method = Method.objects.get()
    method.acid_kj_per_mol = 60
    newer = setup.keep_method(method, by=laboratory.coordinator)
    run.refresh_from_db()
    assert (run.method.version, newer.version) == (1, 2)
    assert str(run.method.acid_kj_per_mol) == "59.70"
    with pytest.raises(PermissionDenied):
        setup.keep_method(method, by=laboratory.assistant)


def test_a_change_of_the_bench_is_dated_after_the_last_and_by_the_coordinator(
    laboratory: Laboratory,
) -> None:
    newest = head_changed(laboratory)
    newest.pk, newest._state.adding = None, True
    with pytest.raises(Refused, match="must be dated after it"):
        setup.change_configuration(newest, by=laboratory.coordinator)
    newest.since = timezone.now()
    with pytest.raises(PermissionDenied):
        setup.change_configuration(newest, by=laboratory.assistant)

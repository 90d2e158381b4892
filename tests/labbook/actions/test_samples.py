"""Samples given to groups, what staff may write about them, and the day of the reveal."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied
from django.core.management import CommandError, call_command
from django.utils import timezone

from labbook.actions import around_firing, runs, sheets
from labbook.actions.samples import issue_sample, issue_samples, reveal_due, reveal_sample
from labbook.actions.setup import save_setup
from labbook.lookups.samples import issue_of, visible_samples
from labbook.models import Group, Sample, SampleIssue, Substance
from labbook.problems import Refused
from labbook.problems.samples import label_tells, with_label

from ..conftest import Laboratory, approved, unknown


def another_sample(lab: Laboratory, label: str = "U-2", **rest: object) -> Sample:
    sucrose, _ = Substance.objects.get_or_create(name="sucrose", formula="C12H22O11")
    return Sample.objects.create(
        term=lab.term, label=label, substance=sucrose, max_charge_g="1.1", **rest
    )


def own_group(lab: Laboratory) -> Group:
    assert lab.group.group is not None
    return lab.group.group


def test_a_group_sees_its_own_sample_alone(laboratory: Laboratory) -> None:
    other = another_sample(laboratory)
    issue_sample(other, laboratory.stranger.group, by=laboratory.other_assistant)
    assert list(visible_samples(laboratory.group)) == [laboratory.sample]
    assert list(visible_samples(laboratory.stranger)) == [other]
    assert visible_samples(laboratory.assistant).count() == 2


def test_an_unknown_is_opened_with_the_issued_sample_alone(laboratory: Laboratory) -> None:
    approved(laboratory)
    with pytest.raises(Refused, match="yours is U-1"):
        runs.open_unknown_run(laboratory.bench, another_sample(laboratory), by=laboratory.group)


def test_giving_another_needs_its_reason_and_keeps_the_earlier(laboratory: Laboratory) -> None:
    other, group = another_sample(laboratory), own_group(laboratory)
    with pytest.raises(Refused, match="holds U-1"):
        issue_sample(other, group, by=laboratory.assistant)
    issue_sample(other, group, "vial broke", by=laboratory.assistant)
    assert issue_of(group).sample == other
    assert [issue.reason for issue in group.issues.all()] == ["", "vial broke"]


def test_issuing_what_a_group_holds_changes_nothing(laboratory: Laboratory) -> None:
    issue_sample(laboratory.sample, own_group(laboratory), by=laboratory.assistant)
    assert SampleIssue.objects.count() == 1


def test_a_section_is_given_its_samples_all_or_none(laboratory: Laboratory) -> None:
    group = own_group(laboratory)
    new = Group.objects.create(section=group.section, code="M2")
    other = another_sample(laboratory)
    with pytest.raises(Refused, match="Say why"):
        issue_samples([(new, other), (group, other)], by=laboratory.assistant)
    assert not new.issues.exists()


@pytest.mark.parametrize("who", ["group", "other_assistant"])
def test_samples_are_given_by_the_tas_of_the_section(laboratory: Laboratory, who: str) -> None:
    with pytest.raises(PermissionDenied):
        issue_sample(
            another_sample(laboratory), own_group(laboratory), "x", by=getattr(laboratory, who)
        )


def test_a_revealed_sample_is_no_unknown(laboratory: Laboratory) -> None:
    other = another_sample(laboratory, revealed_at=timezone.now())
    with pytest.raises(Refused, match="no unknown any more"):
        issue_sample(other, own_group(laboratory), "x", by=laboratory.assistant)


@pytest.mark.parametrize("words", ["it is Naphthalene", "C10H8, so beware", "looks like C₁₀H₈"])
def test_staff_cannot_write_to_a_group_what_is_in_its_vial(
    laboratory: Laboratory, words: str
) -> None:
    run = unknown(laboratory)
    for deed in (
        lambda by: runs.set_run_aside(run, "soot", words, by=by),
        lambda by: sheets.enter_figure(run, "remarks", words, by=by),
        lambda by: around_firing.record_happening(run, "other", words, by=by),
    ):
        with pytest.raises(Refused, match="still hidden"):
            deed(laboratory.assistant)


def test_a_group_that_guesses_is_not_told_whether_it_is_right(laboratory: Laboratory) -> None:
    run = unknown(laboratory)
    for guess in ("naphthalene", "sucrose"):
        assert sheets.enter_figure(run, "remarks", guess, by=laboratory.group).text == guess


@pytest.mark.parametrize(
    ("label", "told"),
    [
        ("U-1", ""), ("Q41", ""), ("N3", ""), ("A-12", ""),
        ("nap-1", "part of the name"), ("1 halene", "part of the name"),
        ("NA2", "part of the name"),
        ("C10H8", "the formula"), ("c₁₀h₈", "the formula"), ("Q128", "the molar mass"),
        ("x kx-77", "the lot"),
    ],
)  # fmt: skip
def test_a_label_tells_nothing(label: str, told: str) -> None:
    assert label_tells(label, Substance(name="naphthalene", formula="C10H8"), "KX-77") == told


def test_a_label_does_not_come_back_with_what_it_once_held(laboratory: Laboratory) -> None:
    reveal_sample(laboratory.sample, by=laboratory.coordinator)
    term = laboratory.term
    term.pk, term._state.adding, term.name = None, True, "another"
    term.save()
    again = Sample(term=term, label="u-1", substance=laboratory.sample.substance)
    assert [problem.field for problem in with_label(again)] == ["label"]


def test_the_most_charge_is_the_same_for_every_hidden_vial(laboratory: Laboratory) -> None:
    other = another_sample(laboratory)
    hidden = {sample.charge_limit_g for sample in (laboratory.sample, other)}
    assert hidden == {Decimal("0.700")}
    other = reveal_sample(other, by=laboratory.coordinator)
    other.refresh_from_db()
    assert other.charge_limit_g == Decimal("1.100")


def due(lab: Laboratory) -> Sample:
    lab.sample.reveal_on = timezone.localdate() - timedelta(days=1)
    save_setup(lab.sample, by=lab.coordinator)
    return lab.sample


def test_what_is_due_is_revealed_by_who_set_the_day(
    laboratory: Laboratory, capsys: pytest.CaptureFixture[str]
) -> None:
    sample, later = due(laboratory), another_sample(laboratory)
    later.reveal_on = timezone.localdate() + timedelta(days=1)
    save_setup(later, by=laboratory.coordinator)
    call_command("reveal")
    sample.refresh_from_db()
    later.refresh_from_db()
    assert not sample.is_hidden and later.is_hidden
    printed = capsys.readouterr().out
    assert "Revealed: U-1" in printed and "naphthalene" not in printed


def test_nobody_who_left_reveals(laboratory: Laboratory) -> None:
    sample = due(laboratory)
    laboratory.coordinator.is_active = False
    laboratory.coordinator.save()
    with pytest.raises(CommandError, match="--by"):
        call_command("reveal")
    assert Sample.objects.get(pk=sample.pk).is_hidden


def test_a_ta_reveals_what_is_due_in_their_terms(laboratory: Laboratory) -> None:
    assert reveal_due(by=laboratory.assistant) == []
    due(laboratory)
    assert [str(sample) for sample in reveal_due(by=laboratory.assistant)] == ["U-1"]

"""Opening runs: on which bench, by whom, and what an unknown waits for."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from labbook import clock
from labbook.actions import runs, sheets, standardizations
from labbook.lookups.standardizations import approval_in_force
from labbook.models import Bench, Run, Sample, Standardization, Term
from labbook.problems import Refused

from ..conftest import (
    Laboratory,
    approved,
    completed,
    head_changed,
    member,
    put_forward,
    standardized,
    unknown,
)


def test_an_unknown_waits_for_a_first_standardization(laboratory: Laboratory) -> None:
    with pytest.raises(Refused, match="no approved standardization in force"):
        runs.open_unknown_run(laboratory.bench, laboratory.sample, by=laboratory.group)
    assert not Run.objects.exists()


def test_an_unknown_rests_on_the_approval_in_force(laboratory: Laboratory) -> None:
    run = unknown(laboratory)
    assert run.rests_on == approval_in_force(laboratory.bench)


def test_an_unknown_is_refused_once_the_approval_is_withdrawn(laboratory: Laboratory) -> None:
    standardizations.withdraw(approved(laboratory), "wrong lot", by=laboratory.assistant)
    with pytest.raises(Refused, match="no approved standardization in force"):
        runs.open_unknown_run(laboratory.bench, laboratory.sample, by=laboratory.group)


def test_an_unknown_is_refused_once_the_bench_was_changed(laboratory: Laboratory) -> None:
    approved(laboratory)
    head_changed(laboratory)
    with pytest.raises(Refused, match="no approved standardization in force"):
        runs.open_unknown_run(laboratory.bench, laboratory.sample, by=laboratory.group)


def test_an_unknown_is_refused_once_the_approval_has_run_out(laboratory: Laboratory) -> None:
    found = approved(laboratory)
    yesterday = timezone.localdate() - timedelta(days=1)
    Standardization.objects.filter(pk=found.pk).update(lapses_on=yesterday)
    with pytest.raises(Refused, match="no approved standardization in force"):
        runs.open_unknown_run(laboratory.bench, laboratory.sample, by=laboratory.group)


def test_an_unknown_of_another_term_is_refused(laboratory: Laboratory) -> None:
    approved(laboratory)
    term = Term.objects.create(
        name="spring",
        starts=timezone.localdate() - timedelta(days=300),
        ends=timezone.localdate() - timedelta(days=200),
        method=laboratory.method,
    )
    old = Sample.objects.create(
        term=term, label="U-9", substance=laboratory.sample.substance, max_charge_g="0.7"
    )
    with pytest.raises(Refused, match="U-9 does not belong to this term"):
        runs.open_unknown_run(laboratory.bench, old, by=laboratory.group)


def test_no_run_opens_on_a_bench_out_of_service(laboratory: Laboratory) -> None:
    laboratory.bench.in_service = False
    laboratory.bench.save()
    with pytest.raises(Refused, match="out of service"):
        runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    with pytest.raises(Refused, match="out of service"):
        runs.open_other_run(laboratory.bench, Run.Kind.PRACTICE, by=laboratory.group)


def test_a_group_is_told_which_bench_it_is_booked_on(laboratory: Laboratory) -> None:
    with pytest.raises(Refused, match="You are on bench B2; group M1 is booked on bench B1"):
        runs.open_standardization_run(laboratory.other_bench, by=laboratory.group)


def test_a_group_without_a_bench_is_sent_to_its_assistant(laboratory: Laboratory) -> None:
    group = laboratory.group.group
    assert group is not None
    group.bench = None
    group.save()
    with pytest.raises(Refused, match="no bench booked"):
        runs.open_standardization_run(laboratory.bench, by=laboratory.group)


def test_a_bench_without_recorded_parts_takes_no_run(laboratory: Laboratory) -> None:
    bare, group = Bench.objects.create(code="B9"), laboratory.group.group
    group.bench = bare
    group.save()
    with pytest.raises(Refused, match="parts of bench B9 are not recorded"):
        runs.open_standardization_run(bare, by=laboratory.group)


@pytest.mark.parametrize("who", ["assistant", "coordinator"])
def test_only_groups_open_runs(laboratory: Laboratory, who: str) -> None:
    with pytest.raises(PermissionDenied):
        runs.open_standardization_run(laboratory.bench, by=getattr(laboratory, who))


def test_no_run_joins_a_set_that_is_put_forward(laboratory: Laboratory) -> None:
    put_forward(laboratory)
    with pytest.raises(Refused, match="put forward"):
        runs.open_standardization_run(laboratory.bench, by=laboratory.group)


def test_runs_from_before_and_after_a_change_do_not_join(laboratory: Laboratory) -> None:
    standardized(laboratory, (2.5,))
    head_changed(laboratory)
    with pytest.raises(Refused, match="new head"):
        runs.open_standardization_run(laboratory.bench, by=laboratory.group)


def test_replicates_are_numbered_within_their_set(laboratory: Laboratory) -> None:
    opened = [
        runs.open_standardization_run(laboratory.bench, by=laboratory.group) for _ in range(3)
    ]
    assert [run.replicate for run in opened] == [1, 2, 3]
    assert len({run.standardization_id for run in opened}) == 1


def test_who_is_present_carries_over_within_the_day(laboratory: Laboratory) -> None:
    first = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    member(laboratory, "Bo Reed")
    completed(first, laboratory)
    second = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    assert list(second.present.all()) == [laboratory.person]


def test_the_day_is_the_laboratorys_not_that_of_greenwich(laboratory: Laboratory) -> None:
    evening = datetime(2026, 3, 3, 4, 30, tzinfo=UTC)  # 20:30 on 2 March in Los Angeles, UTC−8
    with timezone.override(ZoneInfo("America/Los_Angeles")):
        with clock.at(evening - timedelta(hours=6)):
            first = runs.open_other_run(laboratory.bench, Run.Kind.BLANK, by=laboratory.group)
            sheets.note_presence(first, [laboratory.person], by=laboratory.group)
        with clock.at(evening):
            second = runs.open_other_run(laboratory.bench, Run.Kind.BLANK, by=laboratory.group)
    assert list(second.present.all()) == [laboratory.person]


def test_a_kind_that_needs_more_is_not_opened_as_practice(laboratory: Laboratory) -> None:
    with pytest.raises(Refused, match="not a practice run or a blank"):
        runs.open_other_run(laboratory.bench, Run.Kind.UNKNOWN, by=laboratory.group)

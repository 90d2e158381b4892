"""The look for likeness over a term's records: what is told, to whom, and what it leaves behind."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from labbook import clock
from labbook.actions import runs as run_actions
from labbook.actions.readings import strike_readings
from labbook.actions.typed_readings import Sent, add_typed_reading
from labbook.lookups.likeness import look_for_likeness
from labbook.lookups.term_records import TermRecords
from labbook.models import Account, Group, LoggerFile, Run

from ..conftest import Laboratory, curve, fill_in, hand_in

CURVE = curve()


def opened(lab: Laboratory, who: Account) -> Run:
    assert who.group is not None
    bench = who.group.bench
    assert bench is not None
    return run_actions.open_standardization_run(bench, by=who)


@pytest.fixture
def copied(laboratory: Laboratory) -> tuple[Run, Run]:
    """The stranger's group handed in the group's readings, later and without their beginning."""
    mine, theirs = (opened(laboratory, who) for who in (laboratory.group, laboratory.stranger))
    hand_in(mine, CURVE, laboratory.group)
    head, *rows = CURVE.decode().splitlines()
    shifted = [row.split(",") for row in rows[3:]]
    text = [f"{float(time) - 45:g},{float(value) + 0.02:.4f}" for time, value in shifted]
    hand_in(theirs, "\n".join([head, *text]).encode(), laboratory.stranger)
    return mine, theirs


def test_a_copied_series_is_told_with_its_shift(
    laboratory: Laboratory, copied: tuple[Run, Run]
) -> None:
    found = look_for_likeness(laboratory.term, laboratory.coordinator)
    (one,) = found.series
    assert one.runs == tuple(run.pk for run in copied)
    assert one.shift == 3 and one.offset_k == pytest.approx(0.02)
    assert found.count == 1


def test_one_file_for_two_groups_is_told(laboratory: Laboratory) -> None:
    runs = []
    for who in (laboratory.group, laboratory.stranger):
        runs.append(opened(laboratory, who))
        hand_in(runs[-1], CURVE, who)
    (one,) = look_for_likeness(laboratory.term, laboratory.coordinator).files
    assert one.runs == [run.pk for run in runs] and one.elsewhere == 0


def test_another_sections_run_is_out_of_a_tas_reach(
    laboratory: Laboratory, copied: tuple[Run, Run]
) -> None:
    found = look_for_likeness(laboratory.term, laboratory.assistant)
    (one,) = found.series
    assert [found.sees(found.run(pk).group) for pk in one.runs] == [True, False]


def test_what_concerns_no_section_of_a_ta_is_not_told(
    laboratory: Laboratory, copied: tuple[Run, Run]
) -> None:
    laboratory.group.group.section.assistants.clear()
    assert look_for_likeness(laboratory.term, laboratory.assistant).count == 0


def test_students_may_not_look(laboratory: Laboratory) -> None:
    with pytest.raises(PermissionDenied):
        look_for_likeness(laboratory.term, laboratory.group)


def type_readings(
    run: Run, who: Account, every: timedelta, waited: timedelta | None = None
) -> None:
    start = clock.now()
    for number in range(24):
        sent = Sent(waited=(waited or timedelta()) * (24 - number))
        with clock.at(start + every * number):
            add_typed_reading(run, f"{30 * number}", f"22.{500 + number}", by=who, sent=sent)


def test_readings_typed_all_at_once_are_told(laboratory: Laboratory) -> None:
    run = opened(laboratory, laboratory.group)
    type_readings(run, laboratory.group, timedelta(seconds=2))
    (one,) = look_for_likeness(laboratory.term, laboratory.coordinator).at_once
    assert (one.run, one.count, one.typed_s, one.span_s) == (run.pk, 24, 46.0, 690.0)


def test_readings_typed_in_their_own_time_are_not(laboratory: Laboratory) -> None:
    run = opened(laboratory, laboratory.group)
    type_readings(run, laboratory.group, timedelta(seconds=30))
    assert look_for_likeness(laboratory.term, laboratory.coordinator).at_once == []


def test_readings_that_waited_for_the_server_count_from_when_they_were_typed(
    laboratory: Laboratory,
) -> None:
    run = opened(laboratory, laboratory.group)
    type_readings(run, laboratory.group, timedelta(0), waited=timedelta(seconds=30))
    assert look_for_likeness(laboratory.term, laboratory.coordinator).at_once == []


def test_a_run_opened_when_nobody_else_was_there_is_told(laboratory: Laboratory) -> None:
    section = laboratory.group.group.section
    noon = timezone.localtime().replace(hour=12, minute=0)
    for number, hour in enumerate((13, 14, 21)):
        group = Group.objects.create(section=section, code=f"M{number + 5}", bench=laboratory.bench)
        account = Account.objects.create(username=group.code, role="group", group=group)
        with clock.at(noon.replace(hour=hour)):
            late = opened(laboratory, account)
    (one,) = look_for_likeness(laboratory.term, laboratory.coordinator).out_of_hours
    assert one.run == late.pk and one.others is not None
    assert [timezone.localtime(at).hour for at in one.others] == [13, 14]


def test_charges_and_digits_are_taken_as_typed_and_struck_readings_not(
    laboratory: Laboratory,
) -> None:
    run = opened(laboratory, laboratory.group)
    fill_in(run, {"charge_gross_g": "13,9870", "charge_tare_g": "13.0000"}, laboratory.group)
    hand_in(run, CURVE, laboratory.group)
    strike_readings(run, 1, 2, "bumped", by=laboratory.group)
    records = TermRecords(laboratory.term)
    (weighed,) = records.weighings()
    assert (str(weighed.gross), str(weighed.charge)) == ("13.9870", "0.9870")
    assert records.digits()["charge"] == {run.group_id: [0]}
    assert records.series[run.pk].time_s[0] == 30.0
    assert records.series[run.pk].step_k == pytest.approx(0.0001)


def test_looking_leaves_nothing_behind(laboratory: Laboratory, copied: tuple[Run, Run]) -> None:
    def kept() -> list[int]:
        models = (Run, LoggerFile, Account, Group)
        return [model._default_manager.count() for model in models]

    before = kept()
    look_for_likeness(laboratory.term, laboratory.coordinator)
    assert kept() == before

"""How the record itself stands, in words: each thing when it is well and when it is not."""

from __future__ import annotations

import json
from datetime import timedelta
from io import StringIO
from pathlib import Path

import pytest
import time_machine
from axes.models import AccessFailureLog
from django.core.management import call_command
from django.db import connection
from django.utils import timezone

from labbook.access import PermissionDenied
from labbook.actions import runs, sheets
from labbook.actions.devices import make_device
from labbook.actions.upkeep import note_upkeep, verify
from labbook.guards import remove_guards, without_guards
from labbook.lookups import machine, status
from labbook.lookups.machine import Room
from labbook.models import Device, Upkeep

from ..conftest import Laboratory

GIGABYTE = 1e9


def backed_up(days_ago: float, *, is_fine: bool = True, size: float = 1e6) -> None:
    note_upkeep("backup", "all of it", is_fine=is_fine, by=None, details={"database_bytes": size})
    newest = Upkeep.objects.first()
    assert newest is not None
    Upkeep.objects.filter(pk=newest.pk).update(at=timezone.now() - timedelta(days=days_ago))


def test_only_those_who_keep_the_record_see_it(laboratory: Laboratory) -> None:
    for account in (laboratory.group, laboratory.assistant):
        with pytest.raises(PermissionDenied):
            status.status(account)
    found = status.status(laboratory.coordinator)
    assert len({one.code for one in found}) == len(found) == 10


def test_the_gravest_comes_first(laboratory: Laboratory) -> None:
    order = ("bad", "look", "not known", "fine")
    states = [order.index(one.state) for one in status.status(laboratory.coordinator)]
    assert states == sorted(states)


def test_no_backup_or_an_old_one_is_bad_and_a_fresh_one_fine(db: None) -> None:
    assert status.last_backup().state == "bad"
    backed_up(3)
    assert status.last_backup().state == "bad"
    assert status.last_backup().words.startswith("3 d ago")
    backed_up(1)
    assert status.last_backup().state == "fine"
    backed_up(0.1, is_fine=False)
    found = status.last_backup()
    assert found.state == "look" and "A later one failed" in found.said[0]


def test_a_backup_that_was_taken_away_is_said(db: None, tmp_path: Path) -> None:
    details = {"folder": str(tmp_path), "file": "record.zip", "size": 2_000_000}
    note_upkeep("backup", "all of it", is_fine=True, by=None, details=details)
    assert "(2.0 MB), where it is no longer" in status.last_backup().words
    (tmp_path / "record.zip").touch()
    assert "no longer" not in status.last_backup().words


def test_how_long_the_room_lasts_is_said_only_when_it_is_known(
    db: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(machine, "room_on_disk", lambda: Room(int(20 * GIGABYTE), int(1e11)))
    assert "not known yet" in status.disk().said[0]
    backed_up(30, size=1 * GIGABYTE)
    backed_up(0, size=4 * GIGABYTE)
    # (4 GB − 1 GB) in 30 days are 0.1 GB a day; 20 GB at 0.1 GB a day are 200 days.
    assert "grew by 100.0 MB a day over the 30 days" in status.disk().said[0]
    assert "the room lasts about 200 days" in status.disk().said[0]


@pytest.mark.parametrize(("free", "state"), [(0.4, "bad"), (3, "look"), (50, "fine")])
def test_little_room_is_said(
    db: None, monkeypatch: pytest.MonkeyPatch, free: float, state: str
) -> None:
    monkeypatch.setattr(machine, "room_on_disk", lambda: Room(int(free * GIGABYTE), int(1e11)))
    assert status.disk().state == state


def test_a_clock_that_went_back_is_bad(laboratory: Laboratory) -> None:
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    sheets.enter_figure(run, "room_c", "21", by=laboratory.group)
    assert status.clocks().state != "bad"
    with time_machine.travel(timezone.now() - timedelta(hours=3)):
        found = status.clocks()
    assert found.state == "bad" and "The clock went back" in found.said[0]


def test_the_clock_of_the_database_is_compared_where_it_has_one(db: None) -> None:
    ahead = machine.database_clock_ahead_s()
    assert (ahead is None) == (connection.vendor == "sqlite")
    if ahead is not None:
        assert abs(ahead) < 60


@pytest.mark.parametrize(("kept", "state"), [(True, "fine"), (False, "look"), (None, "not known")])
def test_whether_a_time_service_keeps_the_clock(
    db: None, monkeypatch: pytest.MonkeyPatch, kept: bool | None, state: str
) -> None:
    monkeypatch.setattr(machine, "is_clock_kept", lambda: kept)
    assert status.clocks().state == state


def test_a_verification_is_kept_with_what_it_found(laboratory: Laboratory) -> None:
    assert status.last_verification().state == "look"
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    entry = sheets.enter_figure(run, "room_c", "21", by=laboratory.group)
    verify(by=laboratory.coordinator)
    assert status.last_verification().state == "fine"
    with without_guards(), connection.cursor() as cursor:
        cursor.execute("UPDATE labbook_sheetentry SET text = '22'")
    verify(by=None)
    found = status.last_verification()
    assert found.state == "bad" and f"sheetentry {entry.pk} is not as it was" in found.words
    assert Upkeep.objects.filter(kind="verify").count() == 2


def test_a_device_that_is_silent_during_a_run_is_named(laboratory: Laboratory) -> None:
    assert status.devices().state == "fine"
    device, _ = make_device(laboratory.bench, "probe 7", by=laboratory.coordinator)
    assert status.devices().state == "fine"
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    type(run).objects.filter(pk=run.pk).update(listens_to=device)
    assert "Silent during a run: probe 7" in status.devices().advice
    Device.objects.filter(pk=device.pk).update(last_heard_at=timezone.now())
    assert status.devices().state == "fine"


def test_failed_sign_ins_of_the_last_day_are_counted(db: None) -> None:
    for number in range(60):
        days, address = divmod(number, 40)
        made = AccessFailureLog.objects.create(username="m1", ip_address=f"192.0.2.{address % 2}")
        when = timezone.now() - timedelta(days=2 * days)
        AccessFailureLog.objects.filter(pk=made.pk).update(attempt_time=when)
    found = status.failed_sign_ins()
    assert found.state == "look" and found.words == "40 in the last day, from 2 addresses."


def test_health_fails_on_what_is_vital_and_warns_of_the_rest(db: None) -> None:
    assert status.health() == status.Health("warn", ["backup"])
    backed_up(0)
    assert status.health() == status.Health("pass", [])
    remove_guards()
    assert status.health() == status.Health("fail", ["guards"])


def test_a_migration_that_was_not_applied_is_named(
    db: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(status, "missing_migrations", lambda: ["labbook.0099_later"])
    assert status.health() == status.Health("fail", ["migrations"])
    assert "labbook.0099_later" in status.migrations().words


def test_the_command_says_the_same_and_leaves_with_1_when_something_is_bad(db: None) -> None:
    out = StringIO()
    with pytest.raises(SystemExit):
        call_command("status", stdout=out)
    assert out.getvalue().startswith("bad        Last backup: There is none.")
    backed_up(0)
    out = StringIO()
    call_command("status", json=True, stdout=out)
    assert {one["code"] for one in json.loads(out.getvalue())} >= {"backup", "disk", "clock"}

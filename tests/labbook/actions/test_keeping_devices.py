"""Tokens of devices, and which run listens to which device."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from labbook.actions import device_readings, devices, runs
from labbook.models import Account, Device, Run
from labbook.problems import Refused

from ..conftest import Laboratory


def made(lab: Laboratory, name: str = "probe 7") -> tuple[Device, str]:
    return devices.make_device(lab.bench, name, by=lab.coordinator)


def test_only_the_digest_of_a_token_is_kept(laboratory: Laboratory) -> None:
    device, token = made(laboratory)
    assert len(token) >= 40
    kept = Device.objects.values().get()
    assert token not in map(str, kept.values())
    assert (device.token_sha256, device.token_end) == (Device.digest(token), token[-4:])


@pytest.mark.parametrize("role", ["group", "assistant"])
def test_only_a_coordinator_makes_or_ends_a_token(laboratory: Laboratory, role: str) -> None:
    by: Account = getattr(laboratory, role)
    device, _ = made(laboratory)
    with pytest.raises(PermissionDenied):
        devices.make_device(laboratory.bench, "another", by=by)
    with pytest.raises(PermissionDenied):
        devices.revoke_device(device, by=by)


@pytest.mark.parametrize("name", ["", "  ", "x" * 61, "probe\0", "probe 7"])
def test_a_device_needs_a_name_of_its_own(laboratory: Laboratory, name: str) -> None:
    made(laboratory)
    with pytest.raises(Refused):
        made(laboratory, name)


def test_an_ended_devices_name_is_free_again(laboratory: Laboratory) -> None:
    device, _ = made(laboratory)
    devices.revoke_device(device, by=laboratory.coordinator)
    made(laboratory)
    with pytest.raises(Refused, match="before"):
        devices.revoke_device(device, by=laboratory.coordinator)


def heard(device: Device, ago_s: float) -> None:
    at = timezone.now() - timedelta(seconds=ago_s)
    Device.objects.filter(pk=device.pk).update(last_heard_at=at)


@pytest.mark.parametrize(("ago_s", "listens"), [(50, True), (70, False)])
def test_a_run_opened_while_its_benchs_device_is_heard_listens_to_it(
    laboratory: Laboratory, ago_s: float, listens: bool
) -> None:
    device, _ = made(laboratory)
    heard(device, ago_s)
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    assert (Run.objects.get(pk=run.pk).listens_to == device) is listens


def test_a_device_is_listened_to_by_one_run(laboratory: Laboratory) -> None:
    device, _ = made(laboratory)
    first = runs.open_other_run(laboratory.bench, "practice", by=laboratory.group)
    second = runs.open_other_run(laboratory.bench, "blank", by=laboratory.group)
    for run in (first, second):
        devices.listen_to_device(run, device, by=laboratory.group)
    assert list(Run.objects.filter(listens_to=device)) == [second]


def test_typing_takes_over_and_gives_back(laboratory: Laboratory) -> None:
    device, _ = made(laboratory)
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    devices.listen_to_device(run, device, by=laboratory.group)
    assert devices.take_over_by_typing(run, by=laboratory.group).listens_to is None
    assert devices.listen_to_device(run, device, by=laboratory.group).listens_to == device


def test_ending_a_token_stops_the_listening(laboratory: Laboratory) -> None:
    device, _ = made(laboratory)
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    devices.listen_to_device(run, device, by=laboratory.group)
    device = devices.revoke_device(device, by=laboratory.coordinator)
    assert Run.objects.get(pk=run.pk).listens_to is None
    with pytest.raises(Refused):
        devices.listen_to_device(run, device, by=laboratory.group)
    with pytest.raises(PermissionDenied):
        device_readings.note_heartbeat(by=device)


def test_another_benchs_device_and_a_finished_run_are_refused(laboratory: Laboratory) -> None:
    other, _ = devices.make_device(laboratory.other_bench, "probe", by=laboratory.coordinator)
    own, _ = made(laboratory)
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    with pytest.raises(Refused, match="no token for bench B1"):
        devices.listen_to_device(run, other, by=laboratory.group)
    Run.objects.filter(pk=run.pk).update(state=Run.State.COMPLETE)
    with pytest.raises(Refused, match="no readings can be added"):
        devices.listen_to_device(run, own, by=laboratory.group)


def test_another_group_neither_listens_nor_takes_over(laboratory: Laboratory) -> None:
    device, _ = made(laboratory)
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    with pytest.raises(PermissionDenied):
        devices.listen_to_device(run, device, by=laboratory.stranger)
    with pytest.raises(PermissionDenied):
        devices.take_over_by_typing(run, by=laboratory.stranger)

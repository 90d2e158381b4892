"""The server's clock goes back in the middle of an afternoon."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

import pytest
import time_machine
from django.utils import timezone

from labbook.actions import devices, runs, sheets, standardizations, typed_readings
from labbook.actions.device_readings import Post, take_device_readings
from labbook.intake.device_posts import read_readings
from labbook.lookups.chain import verify_evidence
from labbook.lookups.readings import as_written, readings_of
from labbook.lookups.sheets import Sheet
from labbook.lookups.status import BAD
from labbook.lookups.status import clocks as clocks_standing
from labbook.models import Device, Run

from ..conftest import Laboratory, put_forward, signed_in

HOUR = timedelta(hours=1)


class Clocks:
    """The server's clock, which can be set, beside one that only runs: a device's."""

    def __init__(self, traveller: time_machine.Traveller, now: datetime) -> None:
        self.traveller, self.server, self.device = traveller, now, now

    def run_on(self, seconds: float) -> None:
        self.device += timedelta(seconds=seconds)
        self.set_server(self.server + timedelta(seconds=seconds))

    def set_server(self, moment: datetime) -> None:
        self.server = moment
        self.traveller.move_to(moment)


@pytest.fixture
def clocks(laboratory: Laboratory) -> Iterator[Clocks]:
    now = timezone.now()
    with time_machine.travel(now, tick=False) as traveller:
        yield Clocks(traveller, now)


def test_entries_and_decisions_keep_the_order_they_came_in(
    laboratory: Laboratory, clocks: Clocks
) -> None:
    found = put_forward(laboratory)
    run = found.runs.get(replicate=1)
    clocks.set_server(clocks.server - HOUR)
    standardizations.send_back(found, "look again", by=laboratory.assistant)
    for text in ("21", "22"):
        sheets.enter_figure(run, "room_c", text, by=laboratory.group, reason="misread")
    assert [d.deed for d in found.decisions.all()] == ["put forward", "sent back"]
    assert Sheet(run).current["room_c"].text == "22"
    assert verify_evidence().is_whole


def test_typed_readings_go_on_where_they_were(laboratory: Laboratory, clocks: Clocks) -> None:
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    for number in range(6):
        if number == 3:
            clocks.set_server(clocks.server - HOUR)
        text = f"20.{number}"
        typed_readings.add_typed_reading(run, f"{30 * number}", text, by=laboratory.group)
        clocks.run_on(30)
    assert [row.temperature for row in as_written(run)] == [f"20.{n}" for n in range(6)]
    assert readings_of(run).times_s.tolist() == [0, 30, 60, 90, 120, 150]


def test_nobody_is_signed_out(laboratory: Laboratory, clocks: Clocks) -> None:
    client = signed_in(laboratory.group)
    clocks.set_server(clocks.server - HOUR)
    assert client.get("/afternoon/").status_code == 200


def listening(lab: Laboratory) -> tuple[Run, Device]:
    run = runs.open_standardization_run(lab.bench, by=lab.group)
    device, _ = devices.make_device(lab.bench, "probe", by=lab.coordinator)
    return devices.listen_to_device(run, device, by=lab.group), device


def send(device: Device, clocks: Clocks, *numbers: int) -> list[str]:
    """One reading a second, sent together just after the last; what is said of those left."""
    ends = clocks.device.timestamp()
    sent = [
        {"seq": n, "clock": ends - (numbers[-1] - n), "value": f"20.{n:03}", "unit": "°C"}
        for n in numbers
    ]
    readings, _ = read_readings(sent, by_time_of_day=False)
    taken = take_device_readings(Post(readings, ends), by=Device.objects.get(pk=device.pk))
    return [left.code for left in taken.left]


def test_a_devices_readings_stay_a_second_apart(laboratory: Laboratory, clocks: Clocks) -> None:
    run, device = listening(laboratory)
    clocks.run_on(10)
    assert send(device, clocks, 1, 2, 3) == []
    clocks.set_server(clocks.server - HOUR)
    clocks.run_on(3)
    assert send(device, clocks, 4, 5, 6) == []
    clocks.run_on(3)
    assert send(device, clocks, 7, 8, 9) == []
    assert readings_of(run).times_s.tolist() == pytest.approx(range(9))
    device.refresh_from_db()
    assert device.clock_jumped_at is None, "it was not the device's clock"


def test_before_the_run_was_opened_a_devices_readings_are_left_to_be_sent_again(
    laboratory: Laboratory, clocks: Clocks
) -> None:
    run, device = listening(laboratory)
    before = clocks.server
    clocks.set_server(before - HOUR)
    assert send(device, clocks, 1, 2, 3) == ["no run"] * 3
    clocks.set_server(before)
    clocks.run_on(10)
    assert send(device, clocks, 1, 2, 3) == []
    assert len(readings_of(run)) == 3


def test_the_status_says_how_far_the_clock_went_back(
    laboratory: Laboratory, clocks: Clocks
) -> None:
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    sheets.enter_figure(run, "room_c", "20", by=laboratory.group)
    assert clocks_standing().state != BAD
    clocks.set_server(clocks.server - HOUR)
    sheets.enter_figure(run, "room_c", "21", by=laboratory.group)
    runs.open_other_run(laboratory.bench, Run.Kind.PRACTICE, by=laboratory.group)
    told = clocks_standing()
    assert told.state == BAD
    assert "The clock went back" in told.said[0] and "1 h" in told.said[0]

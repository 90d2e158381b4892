"""Pages of devices: a token shown once, a run's listening, and the newer readings."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from labbook.actions import devices
from labbook.actions.readings import strike_readings
from labbook.models import Device, Run

from ..api.conftest import Sender, listening, reading, sender
from ..conftest import Laboratory, signed_in

__all__ = ["listening", "sender"]


def text_of(response: Any) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", response.content.decode()))


def test_a_token_is_shown_once_and_kept_nowhere(
    laboratory: Laboratory, coordinator: Client
) -> None:
    made = coordinator.post(reverse("devices"), {"bench": "B1", "name": "probe 7"})
    found = re.search(r'id="token" value="([^"]+)"', made.content.decode())
    assert found and made["Cache-Control"] == "no-store"
    token = found[1]
    assert Device.objects.get().token_sha256 == Device.digest(token)
    for page in (coordinator.get(reverse("devices")), coordinator.get(reverse("setup"))):
        assert token not in page.content.decode()
    assert f"…{token[-4:]}" in text_of(coordinator.get(reverse("devices")))


def test_a_refused_name_comes_back_with_what_was_typed(
    laboratory: Laboratory, coordinator: Client, sender: Sender
) -> None:
    response = coordinator.post(reverse("devices"), {"bench": "B1", "name": "probe 7"})
    assert response.status_code == 422
    assert 'value="probe 7"' in response.content.decode()
    assert "Bench B1 has a device “probe 7” already" in text_of(response)


def test_the_list_says_when_each_was_heard_and_how_its_clock_stands(
    laboratory: Laboratory, coordinator: Client, sender: Sender
) -> None:
    assert "Not heard yet" in text_of(coordinator.get(reverse("devices")))
    Device.objects.update(
        last_heard_at=timezone.now() - timedelta(seconds=7.5), clock_offset_s=43.2
    )
    shown = text_of(coordinator.get(reverse("devices")))
    assert "Last heard 7 s ago" in shown
    assert "Its clock is 43 s behind this server’s" in shown


def test_ending_a_token_moves_it_to_those_ended(
    laboratory: Laboratory, coordinator: Client, sender: Sender
) -> None:
    response = coordinator.post(reverse("revoke_device", args=[sender.device.pk]), follow=True)
    shown = text_of(response)
    assert "is ended. What it sent stays." in shown and "Ended: 1" in shown


def test_a_number_of_devices_costs_the_same_queries(
    laboratory: Laboratory, coordinator: Client
) -> None:
    counts = []
    for _ in range(2):
        for number in range(5):
            name = f"probe {Device.objects.count()} {number}"
            devices.make_device(laboratory.bench, name, by=laboratory.coordinator)
        with CaptureQueriesContext(connection) as found:
            coordinator.get(reverse("devices"))
        counts.append(len(found))
    assert counts[0] == counts[1]


def test_the_readings_page_says_which_device_is_listened_to_and_typing_takes_over(
    laboratory: Laboratory, group: Client, sender: Sender, listening: Run
) -> None:
    sender.send(reading(1, "23.1042"))
    address = reverse("run_readings", args=[listening.pk])
    shown = text_of(group.get(address))
    assert "Readings come from probe 7" in shown and "23.1042 °C at 0:00" in shown
    over = group.post(reverse("take_over_by_typing", args=[listening.pk]), follow=True)
    assert "Take readings from probe 7" in text_of(over)
    sent = {"device": sender.device.pk}
    back = group.post(reverse("listen_to_device", args=[listening.pk]), sent, follow=True)
    assert "Readings come from probe 7" in text_of(back)


@pytest.mark.parametrize("sent", ["", "x", "999", "²"])
def test_listening_to_no_device_of_the_bench_is_not_found(
    group: Client, listening: Run, sent: str
) -> None:
    address = reverse("listen_to_device", args=[listening.pk])
    assert group.post(address, {"device": sent}).status_code == 404


def test_the_newer_readings_are_those_after_a_number(
    laboratory: Laboratory, group: Client, sender: Sender, listening: Run
) -> None:
    sender.send(*(reading(n, 20 + n / 10, ago_s=9 - n) for n in range(1, 4)))
    sender.send(reading(4, "20.40", ago_s=1))
    newer = group.get(reverse("newer_readings", args=[listening.pk, 3])).json()
    assert (newer["temperatures_c"], newer["last"], newer["state"]) == ([20.4], 4, "open")
    assert newer["written"] == ["20.40"], "as it was sent, to the last digit"
    assert newer["newest"].startswith("20.40 °C at 0:0")
    assert 0 <= newer["heard_s"] < 5 and 0 <= newer["reading_s"] < 5
    strike_readings(listening, 2, 2, "slip", by=laboratory.group)
    none = group.get(reverse("newer_readings", args=[listening.pk, 4])).json()
    assert (none["times_s"], none["last"], none["struck"]) == ([], 4, 1)


def test_the_newer_readings_of_another_group_do_not_exist(
    laboratory: Laboratory, listening: Run
) -> None:
    address = reverse("newer_readings", args=[listening.pk, 0])
    assert signed_in(laboratory.stranger).get(address).status_code == 404
    assert signed_in(laboratory.assistant).get(address).status_code == 200


def test_asking_for_newer_readings_costs_the_same_queries_after_many(
    group: Client, sender: Sender, listening: Run
) -> None:
    counts = []
    for start in (1, 31):
        for number in range(start, start + 30):
            sender.send(reading(number, ago_s=1))
        with CaptureQueriesContext(connection) as found:
            group.get(reverse("newer_readings", args=[listening.pk, start + 28]))
        counts.append(len(found))
    assert counts[0] == counts[1] <= 7


def test_the_bench_page_shows_heartbeats_to_a_ta(
    laboratory: Laboratory, assistant: Client, sender: Sender
) -> None:
    shown = text_of(assistant.get(reverse("bench", args=["B1"])))
    assert "probe 7, not heard yet" in shown
    assert assistant.get(reverse("devices")).status_code == 403

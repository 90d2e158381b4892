"""Readings sent by a device: each number taken once, a bad one never in the way of the others."""

from __future__ import annotations

import itertools
import json
import random
from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.utils import timezone

from labbook.actions import devices, readings, runs, typed_readings
from labbook.lookups.readings import as_written, readings_of
from labbook.models import DeviceSeries, ReadingBlock, Run

from ..conftest import Laboratory
from .conftest import ADDRESS, Sender, moment, reading


def test_readings_are_on_the_run_that_listens(sender: Sender, listening: Run) -> None:
    answer = sender.send(reading(1, "23.1040", ago_s=2), reading(2, "23.1050", ago_s=1)).json()
    assert (answer["run"], answer["taken"], answer["known"], answer["left"]) == (
        listening.pk, 2, 0, [],
    )  # fmt: skip
    found = readings_of(listening)
    assert found.temperatures_c.tolist() == [23.104, 23.105]
    assert found.times_s == pytest.approx([0, 1], abs=0.05)
    assert [row.temperature for row in as_written(listening)] == ["23.1040", "23.1050"]


def test_a_post_sent_again_takes_nothing_twice(sender: Sender, listening: Run) -> None:
    body = {"sent_at": moment(), "readings": [reading(n, ago_s=9 - n) for n in range(1, 9)]}
    assert sender.post(body).json()["taken"] == 8
    again = sender.post(body).json()
    assert (again["taken"], again["known"]) == (0, 8)
    assert len(readings_of(listening)) == 8


def test_any_order_of_posts_with_repeats_keeps_every_number_once(
    sender: Sender, listening: Run
) -> None:
    parts = [[reading(n, 20 + n / 100, ago_s=40 - n) for n in range(k, k + 10)] for k in (1, 6, 20)]
    order = parts * 3
    random.Random(5).shuffle(order)
    for part in order:
        sender.send(*part)
    found = readings_of(listening)
    assert sorted(found.temperatures_c) == [20 + n / 100 for n in [*range(1, 16), *range(20, 30)]]
    assert DeviceSeries.objects.get().received == [[1, 15], [20, 29]]
    assert (found.kept()[1][1:] > found.kept()[1][:-1]).all()


def test_a_value_is_kept_digit_by_digit(sender: Sender, listening: Run) -> None:
    body = (
        f'{{"sent_at": "{moment()}", "readings": ['
        f'{{"seq": 1, "clock": "{moment()}", "value": 23.10, "unit": "degC"}},'
        f'{{"seq": 2, "clock": "{moment()}", "value": "23,1050", "unit": "°C"}},'
        f'{{"seq": 3, "clock": "{moment()}", "value": "296.2500", "unit": "K"}},'
        f'{{"seq": 4, "clock": "{moment()}", "value": "73.58", "unit": "°F"}}]}}'
    )
    assert sender.post(body).json()["taken"] == 4
    written = [row.temperature for row in as_written(listening)]
    assert written == ["23.10", "23,1050", "23.1000", "23.100"]
    details = ReadingBlock.objects.get().read_details()
    assert [(d["seq"], d["value"], d["unit"]) for d in details] == [
        (1, "23.10", "°C"), (2, "23,1050", "°C"), (3, "296.2500", "K"), (4, "73.58", "°F"),
    ]  # fmt: skip


BAD = {
    "NaN in text": reading(1, "NaN"),
    "NaN": reading(1, float("nan")),
    "infinity": reading(1, float("-inf")),
    "clock NaN": reading(1) | {"clock": float("nan")},
    "seq NaN": reading(float("nan")),
    "no number": reading(1, "open circuit"),
    "two ways to read": reading(1, "23,104"),
    "a list": reading(1, [23.1]),
    "true": reading(1, True),
    "huge": reading(1, 10**300),
    "tiny": reading(1, 1e-200),
    "without seq": {"clock": moment(), "value": "23.1", "unit": "°C"},
    "seq below 0": reading(-1),
    "seq with a fraction": reading(1.5),
    "seq too large": reading(2**60),
    "without zone": reading(1) | {"clock": "2026-03-01T12:00:00"},
    "no moment": reading(1) | {"clock": "noon"},
    "another kind of clock": reading(1) | {"clock": 12.5},
    "clock at infinity": reading(1) | {"clock": 10**400},
    "year 1": reading(1) | {"clock": "0001-01-01T00:00:00+14:00"},
    "unit": reading(1, unit="mV"),
    "unit a list": reading(1, unit=["K"]),
    "null": None,
    "text": "23.1",
    "empty": {},
}


@pytest.mark.parametrize("bad", BAD)
def test_a_bad_reading_is_left_with_its_reason_and_the_good_one_is_kept(
    sender: Sender, listening: Run, bad: str
) -> None:
    response = sender.send(BAD[bad], reading(77))
    assert response.status_code == 200
    answer = response.json()
    assert answer["taken"] == 1
    assert len(answer["left"]) == 1 and len(answer["left"][0]["why"]) > 20
    assert readings_of(listening).kept_count == 1


def test_when_none_can_be_read_the_answer_is_422_with_a_reason_each(
    sender: Sender, listening: Run
) -> None:
    response = sender.send(reading(1, "open"), reading(2, "closed"))
    assert response.status_code == 422
    whys = [fault["why"] for fault in response.json()["faults"]]
    assert ["“open”" in whys[0], "“closed”" in whys[1]] == [True, True]


@pytest.mark.parametrize(
    "body",
    [
        "", "{", "[]", "7", "null", '"text"', "\xff\xfe", "[" * 5000, '{"readings": []}',
        '{"sent_at": NaN, "readings": []}', '{"sent_at": "noon", "readings": []}',
        '{"sent_at": null, "readings": []}', '{"sent_at": true, "readings": []}',
        '{"sent_at": 1e400, "readings": []}', '{"sent_at": {}, "readings": []}',
        '{"sent_at": 1, "readings": {}}', '{"sent_at": 1, "readings": null}',
        '{"sent_at": 1, "readings": [], "series": "\\u0000"}',
        '{"sent_at": 1, "readings": [], "series": 5}',
        '{"sent_at": 1, "readings": [], "series": "' + "x" * 41 + '"}',
        '{"sent_at": 1' + "0" * 5000 + ', "readings": []}',
    ],
)  # fmt: skip
def test_what_is_no_post_is_refused_with_a_sentence(
    sender: Sender, listening: Run, body: str
) -> None:
    response = sender.post(body.encode("latin-1"))
    assert response.status_code == 422
    assert len(response.json()["why"]) > 20
    assert not len(readings_of(listening))


def test_at_most_a_thousand_readings_are_taken_at_once(sender: Sender, listening: Run) -> None:
    many = [reading(n, ago_s=1) for n in range(1001)]
    refused = sender.send(*many)
    assert refused.status_code == 422
    assert "1001 readings were sent; at most 1000" in refused.json()["faults"][0]["why"]
    assert sender.send(*many[:1000]).json()["taken"] == 1000


@pytest.mark.parametrize("size", [2**20 + 1, 7 * 2**20])
def test_a_body_too_large_is_refused_before_it_is_read(
    sender: Sender, listening: Run, size: int
) -> None:
    response = sender.post(" " * size)
    assert response.status_code == 413
    assert "1 MB" in response.json()["why"]


@pytest.mark.parametrize(
    "header", ["", "Bearer", "Bearer wrong", "Basic eA==", "Bearer " + "x" * 9999]
)
def test_without_a_token_in_force_nothing_is_taken(
    sender: Sender, listening: Run, header: str, caplog: pytest.LogCaptureFixture
) -> None:
    body = {"sent_at": moment(), "readings": [reading(1)]}
    response = sender.post(body, Authorization=header)
    assert response.status_code == 401
    assert response["WWW-Authenticate"] == "Bearer"
    assert "token" in response.json()["why"]
    assert not len(readings_of(listening)) and not caplog.records


def test_an_ended_token_is_refused(laboratory: Laboratory, sender: Sender, listening: Run) -> None:
    devices.revoke_device(sender.device, by=laboratory.coordinator)
    assert sender.send(reading(1)).status_code == 401
    assert not len(readings_of(listening))


def test_no_cookie_is_needed_and_none_is_given(sender: Sender, listening: Run) -> None:
    strict = Client(enforce_csrf_checks=True)
    sent = json.dumps({"sent_at": moment(), "readings": [reading(1)]})
    headers = {"Authorization": f"Bearer {sender.token}"}
    response = strict.post(ADDRESS, sent, content_type="application/json", headers=headers)
    assert response.status_code == 200 and not response.cookies
    assert response["Cache-Control"] == "no-store"


def test_a_signed_in_browser_without_a_token_is_refused(
    laboratory: Laboratory, listening: Run
) -> None:
    client = Client()
    client.force_login(laboratory.coordinator)
    assert client.post(ADDRESS, "{}", content_type="application/json").status_code == 401


def test_with_no_run_listening_readings_are_left_and_may_be_sent_again(
    laboratory: Laboratory, sender: Sender
) -> None:
    answer = sender.send(reading(1)).json()
    assert answer["run"] is None and answer["taken"] == 0
    assert answer["left"][0]["code"] == "no run"
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    assert sender.send(reading(1), reading(2)).json()["taken"] == 2
    assert run.blocks.count() == 1


def test_readings_from_before_the_run_are_left(sender: Sender, listening: Run) -> None:
    answer = sender.send(reading(1, ago_s=90), reading(2, ago_s=30)).json()
    assert answer["taken"] == 1
    assert answer["left"] == [
        {"seq": 1, "code": "before the run", "why": "It is from before this run was opened."}
    ]


def test_a_break_is_filled_in_afterwards(sender: Sender, listening: Run) -> None:
    sender.send(reading(1, 20.01, ago_s=50))
    sender.send(reading(40, 20.40, ago_s=11))
    sender.send(*(reading(n, 20 + n / 100, ago_s=51 - n) for n in range(2, 40)))
    times, temperatures = readings_of(listening).kept()
    assert temperatures.tolist() == [round(20 + n / 100, 2) for n in range(1, 41)]
    assert times == pytest.approx(range(40), abs=0.2)


def test_what_was_typed_is_not_filled_in_over(
    laboratory: Laboratory, sender: Sender, listening: Run
) -> None:
    sender.send(reading(1, ago_s=40))
    run = devices.take_over_by_typing(listening, by=laboratory.group)
    for slot, ago_s in (("10", 30), ("3000", 20)):
        with time_machine.travel(timezone.now() - timedelta(seconds=ago_s), tick=False):
            typed_readings.add_typed_reading(run, slot, "23.2", by=laboratory.group)
    assert sender.send(reading(2, ago_s=25)).json()["left"][0]["code"] == "no run"
    devices.listen_to_device(run, sender.device, by=laboratory.group)
    answer = sender.send(reading(2, ago_s=25), reading(3, ago_s=5)).json()
    assert answer["taken"] == 1
    assert [(left["seq"], left["code"]) for left in answer["left"]] == [(2, "typed")]


def test_another_benchs_run_is_not_written_to(laboratory: Laboratory, sender: Sender) -> None:
    run = runs.open_standardization_run(laboratory.other_bench, by=laboratory.stranger)
    Run.objects.filter(pk=run.pk).update(listens_to=sender.device)
    assert sender.send(reading(1)).json()["left"][0]["code"] == "no run"
    assert not run.blocks.exists()


def test_a_completed_run_takes_no_more(
    laboratory: Laboratory, listening: Run, sender: Sender
) -> None:
    Run.objects.filter(pk=listening.pk).update(state=Run.State.COMPLETE)
    assert sender.send(reading(1)).json()["left"][0]["code"] == "no run"


def test_blocks_of_a_device_fold_into_one_with_their_numbers(
    sender: Sender, listening: Run
) -> None:
    for n in range(1, 6):
        sender.send(reading(n, f"23.{n}000", ago_s=20 - n), series="boot-17")
    readings.fold_blocks(listening)
    block = listening.blocks.get()
    assert (block.count, block.source, block.device) == (5, "device", sender.device)
    details = block.read_details()
    assert [(d["seq"], d["series"], d["value"]) for d in details] == [
        (n, "boot-17", f"23.{n}000") for n in range(1, 6)
    ]
    assert all(d["clock"] for d in details)


def test_blocks_are_put_together_while_readings_come_and_no_page_misses_one(
    laboratory: Laboratory, sender: Sender, listening: Run
) -> None:
    client = Client()
    client.force_login(laboratory.group)
    seen: list[float] = []
    last = 0
    for n in range(1, 131):
        sender.send(reading(n, f"23.{n:04d}", ago_s=50 - n / 10))
        if n % 7 == 0 or n == 130:
            newer = client.get(f"/runs/{listening.pk}/since/{last}/").json()
            seen, last = seen + newer["temperatures_c"], newer["last"]
    assert seen == [float(f"23.{n:04d}") for n in range(1, 131)]
    assert listening.blocks.count() < 75
    found = readings_of(listening)
    assert found.numbers.tolist() == list(range(1, 131))
    assert found.temperatures_c.tolist() == seen


def test_a_device_that_counts_anew_without_another_series_is_told(
    sender: Sender, listening: Run
) -> None:
    sender.send(*(reading(n, ago_s=30 - n) for n in range(1, 4)))
    answer = sender.send(reading(1, "25.0", ago_s=2), reading(2, "25.1", ago_s=1)).json()
    assert [left["code"] for left in answer["left"]] == ["number used", "number used"]
    other = sender.send(reading(1, "25.0"), reading(2, "25.1"), series="boot-2").json()
    assert other["taken"] == 2


def test_a_clock_that_is_wrong_and_one_that_counts_from_its_own_start_are_both_placed(
    sender: Sender, listening: Run
) -> None:
    late = {"seq": 1, "clock": moment(43 + 10), "value": "23.1", "unit": "°C"}
    sender.post({"sent_at": moment(43), "readings": [late]})
    own = [{"seq": n, "clock": 500 + n, "value": "23.2", "unit": "°C"} for n in (1, 2)]
    sender.post({"series": "own", "sent_at": 505, "readings": own})
    assert readings_of(listening).times_s == pytest.approx([0, 6, 7], abs=0.2)


def test_the_intervals_between_readings_are_those_of_the_devices_clock(
    sender: Sender, listening: Run
) -> None:
    """However long each post was under way."""
    start = timezone.now()
    delays = itertools.cycle([0.4, 0.02, 1.3, 0.1])
    for n, delay in zip(range(1, 20), delays, strict=False):
        made = start + timedelta(seconds=n)
        sent = {"seq": n, "clock": made.isoformat(), "value": "23.1", "unit": "°C"}
        with time_machine.travel(made + timedelta(seconds=delay), tick=False):
            sender.post({"sent_at": made.isoformat(), "readings": [sent]})
    times, _ = readings_of(listening).kept()
    assert times[1:] - times[:-1] == pytest.approx([1.0] * 18, abs=0.0015)


@pytest.mark.parametrize("jump_s", [7200, -7200, 20, -20])
def test_a_device_clock_that_is_set_during_a_run_is_noticed(
    sender: Sender, listening: Run, jump_s: int
) -> None:
    start = timezone.now()
    for n in range(1, 11):
        made = start + timedelta(seconds=n)
        shown = (made + timedelta(seconds=jump_s if n > 5 else 0)).isoformat()
        sent = {"seq": n, "clock": shown, "value": "23.1", "unit": "°C"}
        with time_machine.travel(made, tick=False):
            assert sender.post({"sent_at": shown, "readings": [sent]}).json()["taken"] == 1
    assert readings_of(listening).times_s == pytest.approx(range(10), abs=0.01)
    sender.device.refresh_from_db()
    assert sender.device.clock_jump_s == pytest.approx(jump_s, abs=0.01)


def test_a_ping_is_a_heartbeat_without_readings(sender: Sender, listening: Run) -> None:
    headers = {"Authorization": f"Bearer {sender.token}"}
    answer = Client().get("/api/v1/ping", headers=headers).json()
    assert (answer["bench"], answer["run"]) == ("B1", listening.pk)
    sender.device.refresh_from_db()
    assert sender.device.last_heard_at is not None
    assert Client().get("/api/v1/ping").status_code == 401

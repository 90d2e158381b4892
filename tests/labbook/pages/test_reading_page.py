"""One reading, back to what was typed, sent or handed in."""

from __future__ import annotations

import re
from decimal import Decimal
from itertools import pairwise

import pytest
from django.test import Client

from labbook.actions.device_readings import Post, take_device_readings
from labbook.actions.devices import listen_to_device, make_device
from labbook.actions.readings import fold_blocks, strike_readings
from labbook.actions.sheets import note_presence
from labbook.actions.typed_readings import add_typed_reading
from labbook.intake.device_posts import DeviceReading
from labbook.lookups.tracing import origin_of
from labbook.models import Run

from ..conftest import Laboratory, curve, hand_in
from .conftest import Afternoon


def text_of(client: Client, path: str) -> str:
    response = client.get(path)
    assert response.status_code == 200
    return response.content.decode()


def test_a_reading_of_a_file_leads_to_its_bytes(
    group: Client, open_run: Run, laboratory: Laboratory
) -> None:
    content = curve()
    hand_in(open_run, content, laboratory.group)
    html = text_of(group, f"/runs/{open_run.pk}/readings/5/")
    said = re.search(r"(\d+) bytes from byte (\d+) on", html)
    assert said
    size, offset = int(said[1]), int(said[2])
    # The header is line 1, so that the fifth reading stands in line 6.
    assert content[offset : offset + size] == content.split(b"\n")[5].rstrip(b"\r")
    assert "Line 6 of" in html
    assert open_run.files.get().sha256 in html


def test_a_typed_reading_says_who_typed_it_and_when_also_after_folding(
    group: Client, open_run: Run, laboratory: Laboratory
) -> None:
    person = laboratory.person
    note_presence(open_run, [person], by=laboratory.group)
    for time, text in (("0", "23.1000"), ("15", "23,102"), ("30", "23.104")):
        add_typed_reading(open_run, time, text, by=laboratory.group, entered_by=person)
    strike_readings(open_run, 2, 2, "splashed", by=laboratory.group)
    before = origin_of(open_run, 2)
    fold_blocks(open_run)
    after = origin_of(open_run, 2)
    assert before and after and before.first == after.first
    html = text_of(group, f"/runs/{open_run.pk}/readings/2/")
    assert "Typed by Ada Quill" in html and "23,102" in html and "splashed" in html
    assert after.link is not None and after.link.hash in html


def test_a_device_s_reading_shows_what_the_device_sent(
    group: Client, open_run: Run, laboratory: Laboratory
) -> None:
    device, _ = make_device(laboratory.bench, "logger 7", by=laboratory.coordinator)
    listen_to_device(open_run, device, by=laboratory.group)
    now = open_run.opened_at.timestamp() + 0.5
    sent = DeviceReading(41, now, "its own clock", "23.1042", "°C", Decimal("23.1042"))
    take_device_readings(Post([sent], now, "morning"), by=device)
    html = text_of(group, f"/runs/{open_run.pk}/readings/1/")
    for words in ("logger 7", "morning", "41", "its own clock", "23.1042"):
        assert words in html


@pytest.mark.parametrize("number", [0, 82, 99999999999999999999])
def test_a_reading_there_is_not_is_not_found(
    group: Client, open_run: Run, laboratory: Laboratory, number: int
) -> None:
    hand_in(open_run, curve(), laboratory.group)
    assert group.get(f"/runs/{open_run.pk}/readings/{number}/").status_code == 404


def links_in(html: str) -> set[str]:
    return {match.split("#")[0] for match in re.findall(r'href="([^"]+)"', html)}


def test_from_a_bench_s_history_and_from_a_result_it_is_at_most_four_clicks(
    afternoon: Afternoon, coordinator: Client
) -> None:
    run = afternoon.standardization.runs.first()
    assert run is not None
    walk = [
        f"/benches/{afternoon.lab.bench.code}/table/",
        f"/standardizations/{afternoon.standardization.pk}/",
        f"/runs/{run.pk}/result/",
        f"/runs/{run.pk}/readings/",
        f"/runs/{run.pk}/readings/3/",
    ]
    for here, there in pairwise(walk):
        found = links_in(text_of(coordinator, here))
        assert there in found or there.replace("result/", "") in found, (here, there)
    assert text_of(coordinator, walk[-1])
    assert len(walk) - 1 == 4

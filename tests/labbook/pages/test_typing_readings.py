"""Typing readings: as the page's script sends them, and as a plain form does."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Any

import pytest
from django.test import Client

from labbook.lookups.readings import readings_of
from labbook.lookups.sheets import Sheet
from labbook.models import Run

from ..conftest import Laboratory, completed, ready_to_fire, signed_in

DATA = {"Accept": "application/json"}


def typed(run: Run) -> str:
    return f"/runs/{run.pk}/readings/typed/"


def test_a_posted_reading_leads_to_the_page_with_the_next_slot(
    group: Client, open_run: Run
) -> None:
    response = group.post(typed(open_run), {"time": "0", "temperature": "23.1690"}, follow=True)
    html = response.content.decode()
    assert re.search(r'name="time"[^>]*value="0:15"', html)
    assert "23.1690" in html


@pytest.mark.parametrize(
    ("time", "temperature"), [("15", "1,234"), ("15", "warm"), ("15", "231.69"), ("5:75", "23.1")]
)
def test_a_refused_reading_stays_in_its_fields(
    group: Client, open_run: Run, time: str, temperature: str
) -> None:
    response = group.post(typed(open_run), {"time": time, "temperature": temperature})
    html = response.content.decode()
    assert response.status_code == 422 and 'id="typing-error"' in html
    assert f'value="{time}"' in html and f'value="{temperature}"' in html


def test_a_second_reading_at_the_same_time_is_asked_about(group: Client, open_run: Run) -> None:
    group.post(typed(open_run), {"time": "6:00", "temperature": "23.100"})
    response = group.post(typed(open_run), {"time": "360", "temperature": "23.105"})
    html = response.content.decode()
    assert response.status_code == 409
    assert "Reading at 6:00 saved as 23.100 by m1" in html and 'value="23.105"' in html
    assert 'name="beside"' in html and re.search(r'name="instead_of" value="1"', html)


def test_a_reading_far_off_is_kept_and_said(group: Client, open_run: Run) -> None:
    for n in range(4):
        group.post(typed(open_run), {"time": str(15 * n), "temperature": f"23.{169 + n}"})
    response = group.post(typed(open_run), {"time": "60", "temperature": "32.173"}, follow=True)
    html = response.content.decode()
    assert "Mistyped 23.173?" in html and "strike reading 5 out" in html
    assert readings_of(open_run).kept_count == 5


def send(client: Client, run: Run, **fields: str) -> tuple[int, dict[str, Any]]:
    """A reading as the page's script sends it."""
    response = client.post(typed(run), fields, headers=DATA)
    return response.status_code, response.json()


def test_the_page_is_told_number_stamp_and_clock(group: Client, open_run: Run) -> None:
    status, said = send(group, open_run, time="0:30", temperature="23.169", page_key="a")
    assert status == 200 and said["number"] == 1 and said["note"] == ""
    assert re.fullmatch(r"\d\d:\d\d:\d\d", said["at"])
    assert said["now"] - said["zero"] == pytest.approx(30, abs=5)


def test_the_page_is_told_what_others_typed_meanwhile(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    send(group, open_run, time="0", temperature="23.1", page_key="a")
    colleague = {"time": "15", "temperature": "23.2"}
    signed_in(laboratory.assistant).post(typed(open_run), colleague)
    _, said = send(group, open_run, time="30", temperature="23.3", page_key="b", known="1")
    assert [(row["number"], row["time_s"], row["temperature"]) for row in said["others"]] == [
        (2, 15.0, "23.2"), (3, 30.0, "23.3")
    ]  # fmt: skip


def test_what_is_sent_twice_is_kept_once_also_after_completing(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    first = send(group, open_run, time="0", temperature="23.1", page_key="a")[1]
    assert send(group, open_run, time="0", temperature="23.1", page_key="a")[1]["number"] == 1
    completed(open_run, laboratory)
    status, again = send(group, open_run, time="0", temperature="23.1", page_key="a")
    assert status == 200 and (again["number"], again["at"]) == (first["number"], first["at"])
    status, refused = send(group, open_run, time="15", temperature="23.1", page_key="b")
    assert status == 422 and "no readings can be added" in refused["sentence"]


def test_the_page_is_asked_which_of_two_counts(group: Client, open_run: Run) -> None:
    send(group, open_run, time="6:00", temperature="23.100", page_key="a")
    mine = {"time": "6:00", "temperature": "23.105", "page_key": "b"}
    status, said = send(group, open_run, **mine)
    assert status == 409 and said["standing"] == {"number": 1, "temperature": "23.100"}
    assert send(group, open_run, **mine, instead_of="1")[0] == 200
    assert readings_of(open_run).struck.tolist() == [True, False]


def test_a_correction_of_what_was_sent_just_before_finds_it_by_its_key(
    group: Client, open_run: Run
) -> None:
    send(group, open_run, time="0", temperature="23.100", page_key="a")
    fields = {"time": "0", "temperature": "23.105", "page_key": "b", "instead_of_key": "a"}
    assert send(group, open_run, **fields)[0] == 200
    assert readings_of(open_run).struck.tolist() == [True, False]


@pytest.mark.parametrize("waited", ["", "soon", "-5", "nan", "inf", "9e99", "0"])
def test_a_waiting_time_without_sense_counts_as_none(
    group: Client, open_run: Run, waited: str
) -> None:
    _, said = send(group, open_run, time="0", temperature="23.1", waited_s=waited)
    assert said["now"] - said["zero"] == pytest.approx(0, abs=5)


def test_a_reading_that_waited_sets_the_clock_to_when_it_was_typed(
    group: Client, open_run: Run
) -> None:
    _, said = send(group, open_run, time="0", temperature="23.1", waited_s="600")
    assert said["now"] - said["zero"] == pytest.approx(600, abs=5)
    detail = open_run.blocks.get().read_details()[0]
    waited = datetime.fromisoformat(detail["at"]) - datetime.fromisoformat(detail["typed_at"])
    assert waited.total_seconds() == 600


def test_the_clock_starts_once(group: Client, open_run: Run) -> None:
    path = f"/runs/{open_run.pk}/readings/clock/"
    said = group.post(path, headers=DATA).json()
    assert said["now"] - said["zero"] == pytest.approx(0, abs=1)
    assert group.post(path).status_code == 302
    group.post(typed(open_run), {"time": "0", "temperature": "23.1"})
    assert group.post(path).status_code == 409


def test_the_firing_is_marked_by_this_clock_or_refused_with_every_reason(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    path = f"/runs/{open_run.pk}/readings/fired/"
    response = group.post(path, {"moment": "301.5"}, headers=DATA)
    assert response.status_code == 409 and len(response.json()["reasons"]) > 5
    assert group.post(path, {"moment": "301.5"}).status_code == 409
    assert not open_run.entries.exists()
    ready_to_fire(open_run, laboratory)
    assert group.post(path, {"moment": "301.5"}, headers=DATA).status_code == 200
    open_run.refresh_from_db()
    sheet = Sheet(open_run)
    assert open_run.state == Run.State.FIRED
    assert (sheet.text("fired_at_s"), sheet.text("fired_by_clock")) == ("301.5", "pc")
    assert group.post(path, {"moment": "9"}, headers=DATA).status_code == 409


def test_a_page_of_another_sign_in_records_nothing(
    laboratory: Laboratory, group: Client, assistant: Client, open_run: Run
) -> None:
    sent = {"time": "0", "temperature": "23.1"}
    made_for_the_group = {"X-Account": str(laboratory.group.pk)}
    assert assistant.post(typed(open_run), sent, headers=made_for_the_group).status_code == 403
    signed_out = Client().post(typed(open_run), sent, headers=made_for_the_group)
    assert signed_out.status_code == 403 and not open_run.blocks.exists()
    assert group.post(typed(open_run), sent, headers=made_for_the_group).status_code == 302


def test_a_missed_slot_stays_blank(group: Client, open_run: Run) -> None:
    for time in ("0", "15", "45"):
        group.post(typed(open_run), {"time": time, "temperature": "23.1"})
    assert readings_of(open_run).times_s.tolist() == [0, 15, 45]

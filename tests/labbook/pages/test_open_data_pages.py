"""Pages of open data: tokens shown once, and the data set with what is said before it is taken."""

from __future__ import annotations

import re
import zipfile
from io import BytesIO
from typing import Any

from django.test import Client
from django.urls import reverse

from labbook.actions.reading_tokens import make_reading_token
from labbook.models import Device, ReadingToken, Term

from ..conftest import Laboratory, signed_in
from ..leaks import body_of
from .conftest import Afternoon


def text_of(response: Any) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", response.content.decode()))


def test_a_token_to_read_is_shown_once_and_kept_nowhere(
    laboratory: Laboratory, assistant: Client
) -> None:
    made = assistant.post(reverse("reading_tokens"), {"name": "a report"})
    found = re.search(r'id="token" value="([^"]+)"', made.content.decode())
    assert found and "no-store" in made["Cache-Control"]
    assert ReadingToken.objects.get().token_sha256 == Device.digest(found[1])
    listed = assistant.get(reverse("reading_tokens"))
    assert found[1] not in listed.content.decode()
    assert f"…{found[1][-4:]}" in text_of(listed) and "Not yet" in text_of(listed)


def test_a_name_that_is_refused_comes_back_with_the_reason(assistant: Client) -> None:
    address = reverse("reading_tokens")
    for name, words in (("", "Say what it is for"), ("x" * 61, "at most 60 are kept")):
        response = assistant.post(address, {"name": name})
        assert response.status_code == 422 and words in text_of(response)
        assert f'value="{name}"' in response.content.decode()
    assistant.post(address, {"name": "a report"})
    assert "You have a token" in text_of(assistant.post(address, {"name": "a report"}))


def test_a_coordinator_sees_and_ends_everybodys_a_ta_only_own(
    laboratory: Laboratory, assistant: Client, coordinator: Client
) -> None:
    own, _ = make_reading_token("a report", by=laboratory.assistant)
    make_reading_token("the charts", by=laboratory.coordinator)
    address = reverse("reading_tokens")
    assert "the charts" not in text_of(assistant.get(address))
    shown = text_of(coordinator.get(address))
    assert "the charts" in shown and "a report" in shown
    ended = coordinator.post(reverse("revoke_reading_token", args=[own.pk]), follow=True)
    assert "is ended" in text_of(ended) and "Ended: 1" in text_of(ended)
    again = coordinator.post(reverse("revoke_reading_token", args=[own.pk]))
    assert again.status_code == 409 and "was ended before" in text_of(again)


def test_the_page_says_what_is_told_early_and_what_is_left_out(afternoon: Afternoon) -> None:
    Term.objects.update(ours_unlock="hand figures")
    page = reverse("term_open_data", args=[afternoon.lab.term.pk])
    shown = text_of(signed_in(afternoon.lab.coordinator).get(page))
    assert "its groups are to work their values out first" in shown
    assert "1 run of a sample not revealed yet will be left out" in shown
    assert "3 finished runs" in shown and "none stated" in shown


def test_the_archive_is_taken_with_or_without_the_readings(afternoon: Afternoon) -> None:
    client = afternoon.client("coordinator")
    for page in (
        reverse("term_open_data", args=[afternoon.lab.term.pk]),
        reverse("bench_open_data", args=[afternoon.lab.bench.code]),
    ):
        for sent, has_readings in (({"readings": "yes"}, True), ({}, False)):
            response = client.post(page, sent)
            assert "attachment" in response["Content-Disposition"]
            with zipfile.ZipFile(BytesIO(body_of(response))) as archive:
                assert ("data/readings.csv" in archive.namelist()) is has_readings


def test_a_term_to_practise_in_has_no_data_to_publish(afternoon: Afternoon) -> None:
    Term.objects.update(is_practice=True)
    client = afternoon.client("coordinator")
    page = reverse("term_open_data", args=[afternoon.lab.term.pk])
    assert "Take the archive" not in text_of(client.get(page))
    assert client.post(page).status_code == 409
    assert page not in client.get(reverse("term", args=[afternoon.lab.term.pk])).content.decode()


def test_it_is_found_from_the_term_the_bench_and_set_up(afternoon: Afternoon) -> None:
    client, lab = afternoon.client("coordinator"), afternoon.lab
    for page, leads_to in (
        (reverse("term", args=[lab.term.pk]), reverse("term_open_data", args=[lab.term.pk])),
        (reverse("bench", args=[lab.bench.code]), reverse("bench_open_data", args=["B1"])),
        (reverse("setup"), reverse("reading_tokens")),
        (reverse("api_description"), reverse("reading_tokens")),
    ):
        assert f'href="{leads_to}"' in client.get(page).content.decode(), page

"""Staff are signed out when nothing is done; a group never in the middle of a run."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.utils import timezone

from labbook.actions.runs import open_standardization_run
from labbook.models import Run

from ..conftest import Laboratory, signed_in
from .conftest import HTMX

BY_ITSELF = {"X-By-Itself": "1"}


@contextmanager
def later(**by: float) -> Iterator[None]:
    with time_machine.travel(timezone.now() + timedelta(**by)):
        yield


def sent_to_sign_in(client: Client, path: str = "/", **more: object) -> bool:
    response = client.get(path, **more)
    return response.status_code == 302 and response["Location"].startswith("/sign-in/")


@pytest.mark.parametrize("who", ["assistant", "coordinator"])
def test_staff_are_signed_out_after_ten_minutes_without_use(
    laboratory: Laboratory, who: str
) -> None:
    client = signed_in(getattr(laboratory, who))
    with later(minutes=9):
        assert not sent_to_sign_in(client)
    with later(minutes=18):
        assert not sent_to_sign_in(client)
    with later(minutes=30):
        assert sent_to_sign_in(client, "/review/")
        html = client.get("/sign-in/", {"next": "/review/"}).content.decode()
        assert "You were signed out: the record was not used for a while" in html
        assert 'name="next" value="/review/"' in html
        assert "not used for a while" not in client.get("/sign-in/").content.decode()


def test_what_a_page_asks_by_itself_is_no_use(laboratory: Laboratory) -> None:
    client = signed_in(laboratory.assistant)
    section = laboratory.group.group.section_id
    with later(minutes=8):
        assert client.get(f"/sections/{section}/", headers=HTMX | BY_ITSELF).status_code == 200
    with later(minutes=12):
        assert sent_to_sign_in(client, "/review/")


def test_pages_that_ask_by_themselves_say_so(laboratory: Laboratory) -> None:
    section = laboratory.group.group.section_id
    html = signed_in(laboratory.assistant).get(f"/sections/{section}/").content.decode()
    asking = html[html.index('hx-trigger="every') - 120 :][:160]
    assert '"X-By-Itself"' in asking


def test_how_long_is_a_setting(laboratory: Laboratory, settings: object) -> None:
    settings.LABBOOK_STAFF_IDLE_MINUTES = 45
    client = signed_in(laboratory.assistant)
    assert 'data-idle-minutes="45"' in client.get("/review/").content.decode()
    with later(minutes=44):
        assert not sent_to_sign_in(client, "/review/")
    with later(minutes=91):
        assert sent_to_sign_in(client, "/review/")


def test_a_group_with_an_open_run_is_never_signed_out(laboratory: Laboratory) -> None:
    run = open_standardization_run(laboratory.bench, by=laboratory.group)
    client = signed_in(laboratory.group)
    assert "data-idle-minutes" not in client.get(f"/runs/{run.pk}/").content.decode()
    with later(hours=40):
        assert client.get(f"/runs/{run.pk}/").status_code == 200


def test_a_group_without_one_is_signed_out_overnight(laboratory: Laboratory) -> None:
    client = signed_in(laboratory.group)
    with later(hours=6):
        assert not sent_to_sign_in(client, "/afternoon/")
    with later(hours=19):
        assert sent_to_sign_in(client, "/afternoon/")


def test_the_open_run_of_the_other_group_at_the_pc_keeps_both(laboratory: Laboratory) -> None:
    open_standardization_run(laboratory.bench, by=laboratory.group)
    client = signed_in(laboratory.stranger)
    session = client.session
    session["also_here"] = {
        str(laboratory.group.pk): laboratory.group.get_session_auth_hash(),
    }
    session.save()
    with later(hours=13):
        assert client.get("/afternoon/").status_code == 200


def test_a_script_is_told_that_it_was_signed_out(laboratory: Laboratory) -> None:
    client = signed_in(laboratory.assistant)
    headers = HTMX | {"X-Account": str(laboratory.assistant.pk)}
    with later(minutes=12):
        response = client.get("/review/", headers=headers)
    assert response.status_code == 403 and response["X-Signed-Out"] == "1"
    other = signed_in(laboratory.coordinator).get("/review/", headers=headers)
    assert other.status_code == 403 and "X-Signed-Out" not in other


def test_a_form_sent_too_late_comes_back_with_what_was_typed(laboratory: Laboratory) -> None:
    run = open_standardization_run(laboratory.bench, by=laboratory.group)
    client = signed_in(laboratory.assistant)
    sent = {"cause": "other", "remark": "the long story of a <stirrer>", "csrfmiddlewaretoken": "x"}
    with later(minutes=12):
        response = client.post(f"/runs/{run.pk}/set-aside/", sent)
    html = response.content.decode()
    assert response.status_code == 403 and "the long story of a &lt;stirrer&gt;" in html
    assert f'href="/sign-in/?next=%2Fruns%2F{run.pk}%2F"' in html
    assert "csrfmiddlewaretoken" not in html.replace('name="csrfmiddlewaretoken"', "")
    run.refresh_from_db()
    assert run.state == Run.State.OPEN


def test_a_form_from_before_the_sign_in_comes_back_with_what_was_typed(
    laboratory: Laboratory,
) -> None:
    run = open_standardization_run(laboratory.bench, by=laboratory.group)
    client = Client(enforce_csrf_checks=True)
    client.force_login(laboratory.assistant)
    sent = {"remark": "the long story of a stirrer", "csrfmiddlewaretoken": "x" * 64}
    response = client.post(f"/runs/{run.pk}/set-aside/", sent)
    html = response.content.decode()
    assert response.status_code == 403 and "the long story of a stirrer" in html
    assert "too old to be taken" in html and "x" * 64 not in html


def test_every_page_has_one_button_to_sign_out_and_is_kept_by_no_browser(
    laboratory: Laboratory,
) -> None:
    for who, path in ((laboratory.group, "/afternoon/"), (laboratory.assistant, "/review/")):
        client = signed_in(who)
        response = client.get(path)
        assert response.content.decode().count('action="/sign-out/"') == 1
        assert "no-store" in response["Cache-Control"]
        assert client.post("/sign-out/").status_code == 302
        assert sent_to_sign_in(client, path)

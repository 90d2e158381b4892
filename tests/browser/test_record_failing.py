"""The server's own fault, said on the page: what was typed waits there until it is over."""

from __future__ import annotations

import sqlite3
from typing import Any, NoReturn

import pytest
from django.db import OperationalError
from playwright.sync_api import Page, expect

from tests.labbook.conftest import Laboratory

from .bench import SignIn, address, at_the_bench, kept, open_run, saved, type_in

pytestmark = pytest.mark.django_db(transaction=True)
FULL = "The disk of this record’s server is full."


def on_a_full_disk(*args: Any, **kwargs: Any) -> NoReturn:
    """What SQLite raises when its file may grow no more, as Django passes it on."""
    connection = sqlite3.connect(":memory:")
    connection.execute("PRAGMA max_page_count = 1")
    try:
        connection.execute("CREATE TABLE one (two)")
    except sqlite3.OperationalError as error:
        raise OperationalError(*error.args) from error
    raise AssertionError("there was room")


def test_a_reading_waits_in_the_browser_until_there_is_room(
    lab: Laboratory, sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = open_run(lab)
    page = at_the_bench(lab, sign_in, run)
    with monkeypatch.context() as patch:
        patch.setattr("labbook.actions.typed_readings.add_typed_reading", on_a_full_disk)
        type_in(page, "20.1")
        expect(page.locator("#connection")).to_contain_text("Saved on this PC only; will send")
        expect(page.locator("#connection")).to_contain_text(FULL)
        assert kept(run) == []
    saved(page, "0:00", "20.1")
    expect(page.locator("#connection")).to_be_hidden()
    assert kept(run) == [(0.0, "20.1")]


def sheet_of(lab: Laboratory, sign_in: SignIn) -> Page:
    page = sign_in(lab.group)
    page.goto(address(page, open_run(lab), ""))
    page.wait_for_load_state("load")
    return page


def test_a_figure_waits_in_the_browser_until_there_is_room(
    lab: Laboratory, sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = sheet_of(lab, sign_in)
    with monkeypatch.context() as patch:
        patch.setattr("labbook.actions.sheets.enter_figure", on_a_full_disk)
        page.locator("#field-room_c").fill("21.5")
        page.locator("#field-room_c").press("Enter")
        expect(page.locator("#row-room_c .unsent")).to_be_visible()
        expect(page.locator("#connection")).to_contain_text(FULL)
    expect(page.locator("#row-room_c .saved")).to_contain_text("Saved")
    expect(page.locator("#connection")).to_be_hidden()


def test_what_else_was_not_kept_is_said_where_messages_stand(
    lab: Laboratory, sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = sheet_of(lab, sign_in)
    monkeypatch.setattr("labbook.views.presence.keep_presence", on_a_full_disk)
    page.get_by_role("checkbox", name=str(lab.person)).check()
    expect(page.locator("#messages")).to_contain_text(FULL)
    expect(page.locator("#messages")).to_contain_text("was not kept")
    expect(page.locator("#presence")).to_be_visible()

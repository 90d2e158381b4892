"""The network goes, the browser dies, somebody signs out: a reading reaches the server once."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserType, Page, Route, expect

from labbook.models import Account
from tests.labbook.conftest import Laboratory

from .bench import SignIn, address, at_the_bench, kept, open_run, saved, type_in
from .conftest import CHROMIUM, PASSWORD, QUIET

pytestmark = pytest.mark.django_db(transaction=True)
TYPED = "**/readings/typed/"
TEXTS = [f"23.{169 + n}" for n in range(5)]


def refuse(route: Route) -> None:
    route.abort("connectionfailed")


def on_this_pc_only(page: Page, count: int) -> None:
    expect(page.locator("#slots li.unsent")).to_have_count(count)


def try_again(page: Page) -> None:
    """What the browser says when its network is back; the page need not wait out its pause."""
    page.evaluate("window.dispatchEvent(new Event('online'))")


def enter(page: Page, account: Account, server: Any) -> None:
    page.goto(f"{server.url}/sign-in/")
    page.get_by_label("Sign-in name").fill(account.username)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    expect(page.locator(".running-head .who")).to_contain_text(account.name)


def test_readings_typed_without_network_are_sent_in_order_when_it_is_back(
    lab: Laboratory, sign_in: SignIn
) -> None:
    run = open_run(lab)
    page = at_the_bench(lab, sign_in, run)
    type_in(page, TEXTS[0])
    saved(page, "0:00", TEXTS[0])
    page.context.set_offline(True)
    type_in(page, *TEXTS[1:])
    on_this_pc_only(page, 4)
    strip = page.locator("#connection")
    expect(strip).to_contain_text("Saved on this PC only; will send: 4 entries.")
    assert len(kept(run)) == 1
    page.context.set_offline(False)
    saved(page, "1:00", TEXTS[4])
    expect(strip).to_be_hidden()
    on_this_pc_only(page, 0)
    assert kept(run) == [(15.0 * n, text) for n, text in enumerate(TEXTS)]


def test_a_reading_whose_answer_was_lost_is_not_doubled(lab: Laboratory, sign_in: SignIn) -> None:
    run = open_run(lab)
    page = at_the_bench(lab, sign_in, run)

    def lose_answer(route: Route) -> None:
        route.fetch()
        route.abort("connectionreset")

    page.route(TYPED, lose_answer)
    type_in(page, TEXTS[0])
    expect(page.locator("#connection")).to_contain_text("Saved on this PC only")
    page.unroute(TYPED)
    try_again(page)
    saved(page, "0:00", TEXTS[0])
    assert kept(run) == [(0.0, TEXTS[0])]


def test_a_closed_page_sends_what_it_kept_when_the_run_is_opened_again(
    lab: Laboratory, sign_in: SignIn
) -> None:
    run = open_run(lab)
    page = at_the_bench(lab, sign_in, run)
    page.route(TYPED, refuse)
    type_in(page, *TEXTS)
    on_this_pc_only(page, 5)
    here, again = page.url, page.context.new_page()
    page.close()
    again.goto(here)
    saved(again, "1:00", TEXTS[4])
    expect(again.locator("#typing-slot")).to_have_text("Reading at 1:15")
    assert kept(run) == [(15.0 * n, text) for n, text in enumerate(TEXTS)]


def processes_of(folder: Path) -> list[int]:
    """The browser that keeps its data in this folder."""
    found = []
    for entry in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            line = entry.read_bytes().decode(errors="replace")
        except OSError:
            continue
        if f"--user-data-dir={folder}" in line:
            found.append(int(entry.parent.name))
    return found


def test_a_killed_browser_has_kept_what_was_typed(
    lab: Laboratory, browser_type: BrowserType, live_server: Any, tmp_path: Path
) -> None:
    run = open_run(lab)
    folder = tmp_path / "browser"

    def browser() -> Any:
        return browser_type.launch_persistent_context(
            str(folder), executable_path=CHROMIUM, args=QUIET
        )

    context = browser()
    page = context.new_page()
    enter(page, lab.group, live_server)
    page.goto(f"{live_server.url}/runs/{run.pk}/readings/")
    page.route(TYPED, refuse)
    type_in(page, *TEXTS)
    on_this_pc_only(page, 5)
    for number in processes_of(folder):
        os.kill(number, signal.SIGKILL)
    while processes_of(folder):
        time.sleep(0.05)
    for lock in folder.glob("Singleton*"):
        lock.unlink()
    context = browser()
    page = context.new_page()
    enter(page, lab.group, live_server)  # the session's cookie died with the browser
    page.goto(f"{live_server.url}/runs/{run.pk}/readings/")
    saved(page, "1:00", TEXTS[4])
    context.close()
    assert kept(run) == [(15.0 * n, text) for n, text in enumerate(TEXTS)]


def test_another_account_on_the_same_pc_neither_sees_nor_sends_them(
    lab: Laboratory, sign_in: SignIn, live_server: Any
) -> None:
    run = open_run(lab)
    page = at_the_bench(lab, sign_in, run)
    page.route(TYPED, refuse)
    type_in(page, *TEXTS[:2])
    on_this_pc_only(page, 2)
    old, page = page, page.context.new_page()
    page.context.clear_cookies()
    enter(page, lab.assistant, live_server)
    old.unroute(TYPED)
    try_again(old)
    expect(old.locator("#connection")).to_contain_text("signed in as someone else")
    page.goto(address(page, run))
    expect(page.locator("#typing-keys")).to_be_visible()
    expect(page.locator("#connection")).to_be_hidden()
    on_this_pc_only(page, 0)
    assert kept(run) == []
    page.context.clear_cookies()
    old.get_by_role("link", name="Sign in again").click()
    old.get_by_label("Sign-in name").fill(lab.group.username)
    old.get_by_label("Password").fill(PASSWORD)
    old.get_by_role("button", name="Sign in").click()
    saved(old, "0:15", TEXTS[1])
    assert [text for _, text in kept(run)] == TEXTS[:2]
    assert run.blocks.first().by == lab.group


def test_signed_out_while_typing_keeps_the_readings_and_leads_to_the_sign_in(
    lab: Laboratory, sign_in: SignIn
) -> None:
    run = open_run(lab)
    page = at_the_bench(lab, sign_in, run)
    page.context.clear_cookies(name="sessionid")
    type_in(page, *TEXTS[:2])
    expect(page.locator("#connection")).to_contain_text("you are signed out")
    page.get_by_role("link", name="Sign in again").click()
    page.get_by_label("Sign-in name").fill(lab.group.username)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    saved(page, "0:15", TEXTS[1])
    assert [text for _, text in kept(run)] == TEXTS[:2]


def test_readings_the_server_refuses_later_are_shown_and_never_dropped(
    lab: Laboratory, sign_in: SignIn
) -> None:
    run = open_run(lab)
    page = at_the_bench(lab, sign_in, run)
    page.route(TYPED, refuse)
    type_in(page, "231.69", TEXTS[1])
    on_this_pc_only(page, 2)
    page.unroute(TYPED)
    try_again(page)
    saved(page, "0:15", TEXTS[1])
    asked = page.locator("#typing-asked li")
    expect(asked).to_contain_text("Not saved, reading 231.69 at 0:00")
    page.goto(address(page, run, ""))
    expect(page.locator("#connection")).to_contain_text("it needs your answer: reading 231.69")
    page.locator("#connection a").click()
    expect(asked).to_contain_text("Check the decimal mark")
    page.keyboard.press("ArrowUp")
    type_in(page, "23.169")
    saved(page, "0:00", "23.169")
    assert sorted(kept(run)) == [(0.0, "23.169"), (15.0, TEXTS[1])]


def test_where_the_browser_keeps_nothing_the_page_says_to_stay_open(
    lab: Laboratory, sign_in: SignIn
) -> None:
    run = open_run(lab)
    page = at_the_bench(lab, sign_in, run)
    page.add_init_script("indexedDB.open = () => { throw new Error('forbidden here'); };")
    page.reload()
    page.route(TYPED, refuse)
    type_in(page, TEXTS[0])
    strip = page.locator("#connection")
    expect(strip).to_contain_text("leave this page open until it is sent")
    page.unroute(TYPED)
    try_again(page)
    saved(page, "0:00", TEXTS[0])
    expect(strip).to_be_hidden()

"""A page whose sign-in has ended: it says so, leads to the sign-in and back, and shows nothing."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from django.contrib.sessions.models import Session
from playwright.sync_api import Page, expect

from labbook.campus.configured import Campus, OpenID
from labbook.models import Account
from tests.labbook.conftest import Laboratory

from .conftest import PASSWORD
from .looking import MEASURE, look

SignIn = Callable[[Account], Page]


def sign_in_again(page: Page, who: Account) -> None:
    page.get_by_label("Sign-in name").fill(who.username)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()


def test_a_page_that_asks_by_itself_says_that_it_was_signed_out_and_leads_back(
    lab: Laboratory, live_server: Any, sign_in: SignIn
) -> None:
    page = sign_in(lab.assistant)
    path = f"/sections/{lab.group.group.section_id}/"
    page.goto(live_server.url + path)
    Session.objects.all().delete()
    strip = page.locator("#connection")
    expect(strip).to_contain_text("You are signed out", timeout=10_000)
    strip.get_by_role("link", name="Sign in again").click()
    sign_in_again(page, lab.assistant)
    expect(page).to_have_url(live_server.url + path)


def test_a_page_that_was_left_says_so_without_being_touched_and_covers_no_control(
    lab: Laboratory, live_server: Any, sign_in: SignIn
) -> None:
    page = sign_in(lab.coordinator)
    page.clock.install()
    page.goto(f"{live_server.url}/sign-ins/")
    strip = page.locator("#connection")
    page.clock.run_for("05:00")
    expect(strip).to_be_hidden()
    Session.objects.all().delete()
    page.clock.run_for("08:00")
    expect(strip).to_contain_text("You are signed out")
    page.evaluate("window.scrollTo(0, document.body.scrollHeight)")
    page.locator("main button, main a").last.click(trial=True)


def test_using_a_page_without_sending_anything_keeps_the_sign_in(
    lab: Laboratory, live_server: Any, sign_in: SignIn
) -> None:
    page = sign_in(lab.coordinator)
    page.clock.install()
    page.goto(f"{live_server.url}/sign-ins/")
    page.clock.run_for("02:00")
    with page.expect_request(lambda request: request.method == "HEAD") as asked:
        page.get_by_label("Find by name or section").press("a")
    assert "x-by-itself" not in asked.value.headers
    page.clock.run_for("12:00")
    expect(page.locator("#connection")).to_be_hidden()


def test_after_signing_out_going_back_shows_nothing_of_the_record(
    lab: Laboratory, live_server: Any, sign_in: SignIn
) -> None:
    page = sign_in(lab.assistant)
    page.goto(f"{live_server.url}/samples/")
    expect(page.locator("main")).to_contain_text("naphthalene")
    page.goto(f"{live_server.url}/runs/")
    page.get_by_role("button", name="Sign out").click()
    expect(page).to_have_url(re.compile("/sign-in/"))
    for _ in range(3):
        page.go_back()
        expect(page.get_by_label("Password")).to_be_visible()
        assert "naphthalene" not in page.content()


def test_nothing_on_the_pages_round_signing_in_stands_in_the_way(
    lab: Laboratory, live_server: Any, sign_in: SignIn, settings: Any
) -> None:
    """Those that no address alone leads to: too late, too often, the campus sign-on amiss."""
    settings.AXES_FAILURE_LIMIT = 1
    settings.LABBOOK_CAMPUS = Campus(openid=OpenID("http://127.0.0.1:9", "a", "b", "name"))
    page = sign_in(lab.coordinator)
    page.context.add_init_script(MEASURE)
    page.emulate_media(reduced_motion="reduce")
    found = {}
    page.goto(f"{live_server.url}/set-up/devices/")
    Session.objects.all().delete()
    page.locator("main input[type=text], main input:not([type])").first.fill("probe 4")
    page.locator("main form button").first.click()
    expect(page.locator("h1")).to_have_text("You were signed out before this was sent")
    found["too late"] = look(page)
    page.goto(f"{live_server.url}/sign-in/")
    expect(page.get_by_role("link", name="Sign in with the campus account")).to_be_visible()
    found["sign-in"] = look(page)
    page.get_by_label("Sign-in name").fill("m1")
    page.get_by_label("Password").fill("wrong")
    page.get_by_role("button", name="Sign in", exact=True).click()
    expect(page.locator("h1")).to_have_text("Too many wrong passwords")
    found["too often"] = look(page)
    page.goto(f"{live_server.url}/sign-in/campus/")
    expect(page.locator("h1")).to_have_text("The campus sign-on did not go through")
    found["amiss"] = look(page)
    assert {name: these for name, these in found.items() if these} == {}

"""Figures of the sheet typed without network, or after the session ended: sent once, never lost."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, Route, expect

from labbook.models import Run
from tests.labbook.conftest import Laboratory

from .bench import SignIn, address, open_run
from .conftest import PASSWORD

pytestmark = pytest.mark.django_db(transaction=True)
FIGURES = "**/figures/**"


def refuse(route: Route) -> None:
    route.abort("connectionfailed")


def sheet_of(lab: Laboratory, sign_in: SignIn, run: Run) -> Page:
    page = sign_in(lab.group)
    page.goto(address(page, run, ""))
    page.wait_for_load_state("load")
    return page


def write(page: Page, key: str, text: str) -> None:
    page.locator(f"#field-{key}").fill(text)
    page.locator(f"#field-{key}").press("Enter")


def texts(run: Run, key: str) -> list[str]:
    return [entry.text for entry in run.entries.filter(field=key)]


def test_a_figure_typed_without_network_is_sent_when_it_is_back(
    lab: Laboratory, sign_in: SignIn
) -> None:
    run = open_run(lab)
    page = sheet_of(lab, sign_in, run)
    page.context.set_offline(True)
    write(page, "charge_gross_g", "13.9876")
    write(page, "charge_tare_g", "12")
    write(page, "charge_tare_g", "13.0000")  # the last that was typed is what counts
    rows = page.locator(".field", has=page.locator(".unsent"))
    expect(rows).to_have_count(2)
    expect(page.locator("#connection")).to_contain_text("will send: 2 entries")
    page.context.set_offline(False)
    for key in ("charge_gross_g", "charge_tare_g"):
        expect(page.locator(f"#row-{key} .saved")).to_contain_text("Saved")
    expect(rows).to_have_count(0)
    expect(page.locator("#connection")).to_be_hidden()
    assert texts(run, "charge_gross_g") == ["13.9876"]
    assert texts(run, "charge_tare_g") == ["13.0000"]


def test_a_figure_kept_on_this_pc_is_sent_from_whatever_page_comes_next(
    lab: Laboratory, sign_in: SignIn
) -> None:
    run = open_run(lab)
    page = sheet_of(lab, sign_in, run)
    page.route(FIGURES, refuse)
    write(page, "room_c", "21.5")
    expect(page.locator("#row-room_c .unsent")).to_be_visible()
    page.unroute(FIGURES)
    with page.expect_response(FIGURES):
        page.get_by_role("link", name="This afternoon").first.click()
    expect(page.locator("#connection")).to_be_hidden()
    assert texts(run, "room_c") == ["21.5"]


def test_a_figure_somebody_else_wrote_meanwhile_is_asked_about_when_it_is_sent(
    lab: Laboratory, sign_in: SignIn
) -> None:
    run = open_run(lab)
    page, colleague = sheet_of(lab, sign_in, run), sheet_of(lab, sign_in, run)
    page.context.set_offline(True)
    write(page, "charge_tare_g", "13.0032")
    expect(page.locator("#row-charge_tare_g .unsent")).to_be_visible()
    write(colleague, "charge_tare_g", "13.0023")
    expect(colleague.locator("#row-charge_tare_g .saved")).to_contain_text("Saved")
    page.context.set_offline(False)
    question = page.locator("#row-charge_tare_g .conflict")
    expect(question).to_contain_text("Saved as 13.0023")
    question.get_by_role("button", name="Use mine").click()
    expect(page.locator("#row-charge_tare_g .saved")).to_contain_text("Saved")
    assert texts(run, "charge_tare_g") == ["13.0023", "13.0032"]


def test_a_session_that_ended_loses_no_figure(lab: Laboratory, sign_in: SignIn) -> None:
    run = open_run(lab)
    page = sheet_of(lab, sign_in, run)
    page.context.clear_cookies(name="sessionid")
    write(page, "room_c", "21.5")
    expect(page.locator("#connection")).to_contain_text("you are signed out")
    expect(page.locator("#field-room_c")).to_have_value("21.5")
    page.get_by_role("link", name="Sign in again").click()
    page.get_by_label("Sign-in name").fill(lab.group.username)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    expect(page.locator("#row-room_c .saved")).to_contain_text("Saved")
    assert texts(run, "room_c") == ["21.5"]

"""A dark page is printed light, its plots too, and is dark again afterwards."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from playwright.sync_api import Page, expect

from labbook.actions.runs import open_standardization_run
from labbook.models import Account
from tests.labbook.conftest import Laboratory, completed


def test_a_dark_page_is_drawn_light_while_it_is_printed(
    lab: Laboratory, live_server: Any, sign_in: Callable[[Account], Page]
) -> None:
    run = completed(open_standardization_run(lab.bench, by=lab.group), lab)
    page = sign_in(lab.group)
    page.emulate_media(color_scheme="dark")
    page.goto(f"{live_server.url}/runs/{run.pk}/result/")
    words = page.locator("#thermogram .xtick text").first
    dark = words.evaluate("text => getComputedStyle(text).fill")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    expect(page.locator("html")).to_have_attribute("data-theme", "light")
    expect(words).not_to_have_css("fill", dark)
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    expect(words).to_have_css("fill", dark)
    assert page.locator("html").get_attribute("data-theme") is None

"""The pages of the coordinator, looked at as all the others; a file of its own runs beside them."""

from __future__ import annotations

from playwright.sync_api import Browser

from .everywhere import House
from .looking import complaints


def test_nothing_on_any_page_stands_in_the_way(browser: Browser, house: House) -> None:
    assert complaints(browser, house, "coordinator") == {}

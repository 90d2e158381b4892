"""Every page on paper and slate, zoomed, on a phone, by touch, by keyboard, set wider."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser

from .everywhere import House
from .looking import complaints


@pytest.mark.parametrize("reader", ["anonymous", "group", "assistant"])
def test_nothing_on_any_page_stands_in_the_way(browser: Browser, house: House, reader: str) -> None:
    assert complaints(browser, house, reader) == {}

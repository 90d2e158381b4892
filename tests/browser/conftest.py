"""A real Chromium against a live server. Without Chromium the tests say so and are left out."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from labbook.models import Account
from tests.labbook.conftest import Laboratory, laboratory

from .everywhere import House, busy_house

__all__ = ["laboratory"]

# The sync driver keeps an event loop in this thread, which Django would take for async code.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]
PASSWORD = "benzoic-acid"
# plotly's script brings a map stylesheet that the Content-Security-Policy keeps out.
# A refusal is an answer, and the network is taken away on purpose: the browser complains of both.
EXPECTED_COMPLAINTS = (
    "Applying inline style violates",
    "status of 4",
    "net::ERR_",
    "htmx:sendError",
    "htmx:afterRequest",
    "Response Status Error Code 4",
    "status of 507",
    "Response Status Error Code 507",
)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    if CHROMIUM or os.environ.get("LABBOOK_REQUIRE_BROWSER") == "1":
        return
    reason = "no Chromium is installed (Debian package chromium)"
    for item in items:
        if "browser" in item.path.parts:
            item.add_marker(pytest.mark.skip(reason=reason))


@pytest.fixture(scope="session")
def browser_type_launch_args() -> dict[str, Any]:
    assert CHROMIUM, "LABBOOK_REQUIRE_BROWSER=1, but no Chromium is installed"
    return {"executable_path": CHROMIUM, "args": QUIET}


@pytest.fixture
def lab(transactional_db: None, laboratory: Laboratory) -> Laboratory:
    for account in Account.objects.all():
        account.set_password(PASSWORD)
        account.save()
    return laboratory


@pytest.fixture
def house(transactional_db: None, live_server: Any) -> House:
    """A laboratory in the middle of its work, for tests that look at every page of it."""
    return busy_house(live_server.url)


@pytest.fixture
def sign_in(browser: Browser, live_server: Any) -> Iterator[Callable[[Account], Page]]:
    """Open a page of one's own, signed in; any script error fails the test."""
    errors: list[str] = []
    contexts = []

    def enter(account: Account) -> Page:
        context = browser.new_context(viewport={"width": 1280, "height": 800})
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: errors.append(str(error)))
        page.on("console", lambda message: note(message.type, message.text))
        page.goto(f"{live_server.url}/sign-in/")
        page.get_by_label("Sign-in name").fill(account.username)
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        return page

    def note(kind: str, text: str) -> None:
        if kind == "error" and not any(words in text for words in EXPECTED_COMPLAINTS):
            errors.append(text)

    yield enter
    for context in contexts:
        context.close()
    assert errors == []

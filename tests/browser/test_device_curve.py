"""A device's readings on the open page: the curve grows, a silence is said, typing takes over."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from labbook.actions import runs, typed_readings
from labbook.actions.readings import strike_readings
from labbook.models import Account, Run
from tests.labbook.api.conftest import Sender, listening, reading, sender
from tests.labbook.conftest import Laboratory

__all__ = ["listening", "sender"]
SignIn = Callable[[Account], Page]


@pytest.fixture
def opened(
    lab: Laboratory, sign_in: SignIn, live_server: Any, sender: Sender, listening: Run
) -> Iterator[Page]:
    """The page of the readings, with one reading drawn."""
    sender.send(reading(1, "23.0000", ago_s=20))
    page = sign_in(lab.group)
    page.goto(f"{live_server.url}/runs/{listening.pk}/readings/")
    expect(page.locator("#thermogram .main-svg").first).to_be_visible()
    yield page


def points(page: Page) -> list[list[float]]:
    """What is drawn, read off the plot itself."""
    drawn: list[list[float]] = page.evaluate(
        "(document.getElementById('thermogram').calcdata ?? [[]])[0].map(({x, y}) => [x, y])"
    )
    return drawn


def grown_to(page: Page, count: int) -> list[float]:
    """Temperatures of the curve, once it has that many points."""
    for _ in range(100):
        if len(points(page)) >= count:
            break
        page.wait_for_timeout(50)
    return [round(y, 3) for _, y in points(page)]


def test_the_curve_grows_with_the_device_and_with_a_colleagues_typing(
    lab: Laboratory, opened: Page, sender: Sender, listening: Run
) -> None:
    field = opened.locator("#reading-temperature")
    field.focus()
    field.press_sequentially("23.")
    for number in (2, 3, 4):
        sender.send(reading(number, f"23.{number}", ago_s=12 - number))
    assert grown_to(opened, 4) == [23, 23.2, 23.3, 23.4]
    expect(opened.locator("#device-value")).to_contain_text("23.4 °C at 0:")
    typed_readings.add_typed_reading(listening, "300", "23.5", by=lab.group)
    assert grown_to(opened, 5) == [23, 23.2, 23.3, 23.4, 23.5]
    expect(field).to_be_focused()
    expect(field).to_have_value("23.")


def test_what_arrives_late_is_put_in_its_place_and_what_is_struck_leaves(
    lab: Laboratory, opened: Page, sender: Sender, listening: Run
) -> None:
    opened.mouse.move(0, 0)
    sender.send(reading(3, "23.3", ago_s=10))
    assert grown_to(opened, 2) == [23, 23.3]
    sender.send(reading(2, "23.2", ago_s=15))
    assert grown_to(opened, 3) == [23, 23.2, 23.3]
    strike_readings(listening, 2, 2, "slip", by=lab.group)
    expect(opened.locator("#curve")).to_be_visible()
    for _ in range(100):
        if len(points(opened)) == 2:
            break
        opened.wait_for_timeout(50)
    assert [round(y, 3) for _, y in points(opened)] == [23, 23.2]


def test_the_curve_keeps_what_it_grew_when_the_theme_changes(opened: Page, sender: Sender) -> None:
    sender.send(reading(2, "23.2", ago_s=10))
    assert grown_to(opened, 2) == [23, 23.2]
    opened.get_by_role("button", name="Dark page").click()
    assert grown_to(opened, 2) == [23, 23.2]


def test_a_silence_is_said_within_ten_seconds_and_unsaid_again(
    opened: Page, sender: Sender
) -> None:
    sender.send(reading(2, "23.2"))
    gap = opened.locator("#device-gap")
    expect(gap).to_be_hidden()
    expect(gap).to_be_visible(timeout=10_000)
    expect(gap).to_contain_text("The device was last heard")
    sender.send(reading(3, "23.3"))
    expect(gap).to_be_hidden()


def test_typing_takes_over_in_one_action(opened: Page, sender: Sender, listening: Run) -> None:
    opened.get_by_role("button", name="Type instead").click()
    expect(opened.get_by_role("button", name="Take readings from probe 7")).to_be_visible()
    assert sender.send(reading(2)).json()["left"][0]["code"] == "no run"
    expect(opened.locator("#reading-temperature")).to_be_visible()


def test_a_run_completed_elsewhere_is_said_and_asked_about_no_more(
    lab: Laboratory, opened: Page, listening: Run
) -> None:
    runs.set_run_aside(listening, "spill", "", by=lab.assistant)
    expect(opened.locator("#live-changed")).to_be_visible()
    asked: list[str] = []
    opened.on("request", lambda request: asked.append(request.url))
    opened.wait_for_timeout(2500)
    assert not [url for url in asked if "/since/" in url]


def test_a_server_that_is_away_is_said_and_the_curve_catches_up(
    opened: Page, sender: Sender
) -> None:
    address = "**/since/**"
    opened.route(address, lambda route: route.fulfill(body="not the record"))
    expect(opened.locator("#device-away")).to_be_visible()
    sender.send(reading(2, "23.2", ago_s=10))
    opened.unroute(address)
    expect(opened.locator("#device-away")).to_be_hidden()
    assert grown_to(opened, 2) == [23, 23.2]

"""A group at its bench: the readings page, keys as a hand presses them, what is on the server."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page, expect

from labbook.actions import runs
from labbook.lookups.readings import as_written, readings_of
from labbook.models import Account, Run
from tests.labbook.conftest import Laboratory, ready_to_fire

SLOWEST_MS = 20_000
SignIn = Callable[[Account], Page]


def open_run(lab: Laboratory, ready: bool = False) -> Run:
    run = runs.open_standardization_run(lab.bench, by=lab.group)
    return ready_to_fire(run, lab) if ready else run


def address(page: Page, run: Run, of: str = "readings/") -> str:
    return "/".join(page.url.split("/")[:3]) + f"/runs/{run.pk}/{of}"


def at_the_bench(lab: Laboratory, sign_in: SignIn, run: Run) -> Page:
    """The readings page of the run, with its script awake."""
    page = sign_in(lab.group)
    page.goto(address(page, run))
    expect(page.locator("#typing-keys")).to_be_visible()
    return page


def type_in(page: Page, *texts: str) -> int:
    """Type readings, each with Enter; how many keys that took."""
    pressed = 0
    for text in texts:
        for key in (*text, "Enter"):
            page.keyboard.press(key)
            pressed += 1
    return pressed


def saved(page: Page, time: str, text: str) -> None:
    """Wait until the page says that this reading is on the server."""
    row = page.locator("#slots li.saved", has=page.locator(f".slot-time:text-is('{time}')"))
    expect(row.locator(".slot-reading")).to_have_text(f"{text} °C", timeout=SLOWEST_MS)


def kept(run: Run) -> list[tuple[float, str]]:
    """Time and text of the readings that count, as the server has them."""
    times = readings_of(run).times_s
    rows = as_written(run)
    return [
        (float(time), row.temperature)
        for time, row in zip(times, rows, strict=True)
        if row.strike is None
    ]

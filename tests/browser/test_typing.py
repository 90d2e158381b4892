"""Typing readings at pace, with the keyboard alone."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
import time_machine
from playwright.sync_api import Page, expect

from labbook.models import Method, Run
from tests.labbook.conftest import Laboratory

from .bench import SignIn, address, at_the_bench, kept, open_run, saved, type_in

pytestmark = pytest.mark.django_db(transaction=True)
FORE = [f"23.{169 + n}" for n in range(4)]


class Bench:
    """A page and its server whose clocks are moved on together."""

    def __init__(self, page: Page, server: time_machine.Coordinates) -> None:
        self.page, self.server = page, server
        page.clock.install()
        page.reload()
        expect(page.locator("#typing-keys")).to_be_visible()

    def wait(self, seconds: int) -> None:
        self.server.shift(seconds)
        self.page.clock.fast_forward(1000 * seconds)


@pytest.fixture
def server() -> Iterator[time_machine.Coordinates]:
    with time_machine.travel(datetime.now(UTC), tick=True) as coordinates:
        yield coordinates


def test_forty_readings_are_typed_with_digits_and_enter(lab: Laboratory, sign_in: SignIn) -> None:
    run = open_run(lab)
    page = at_the_bench(lab, sign_in, run)
    texts = [f"23.{100 + n}" for n in range(40)]
    pressed = type_in(page, *texts)
    saved(page, "9:45", texts[-1])
    assert kept(run) == [(15.0 * n, text) for n, text in enumerate(texts)]
    assert pressed == sum(len(text) + 1 for text in texts) == 280
    expect(page.locator("#slots li.saved")).to_have_count(12)
    expect(page.locator("#readings-caption")).to_contain_text("40 in use")


def test_a_missed_slot_stays_blank_and_can_be_filled_by_going_back(
    lab: Laboratory, sign_in: SignIn, server: time_machine.Coordinates
) -> None:
    run = open_run(lab)
    bench = Bench(at_the_bench(lab, sign_in, run), server)
    page = bench.page
    label, digits = page.locator("#typing-slot"), page.locator("#pace-digits")
    type_in(page, "23.169")
    saved(page, "0:00", "23.169")
    expect(label).to_have_text("Reading at 0:15")
    bench.wait(16)
    page.keyboard.press("2")
    bench.wait(15)  # begun text stays with its slot
    expect(label).to_have_text("Reading at 0:15")
    type_in(page, "3.170")
    saved(page, "0:15", "23.170")
    bench.wait(30)
    expect(label).to_have_text("Reading at 1:00")
    expect(page.locator("#slots .blank .slot-time")).to_have_text(["0:45", "0:30"])
    expect(digits).to_have_text(re.compile(r"0:1[0-5]|now"))
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowUp")
    expect(label).to_have_text("Reading at 0:30")
    type_in(page, "23.171")
    saved(page, "0:30", "23.171")
    expect(label).to_have_text("Reading at 0:45")  # and on to the next blank one
    page.keyboard.press("Escape")
    expect(label).to_have_text("Reading at 1:00")
    assert [time for time, _ in kept(run)] == [0, 15, 30]


def test_a_reading_far_off_is_kept_and_asked_about_at_once(
    lab: Laboratory, sign_in: SignIn
) -> None:
    run = open_run(lab)
    page = at_the_bench(lab, sign_in, run)
    type_in(page, *FORE, "32.173")
    saved(page, "1:00", "32.173")
    note = page.locator("#typing-note")
    expect(note).to_contain_text("Mistyped 23.173?")
    page.keyboard.press("ArrowUp")
    expect(page.locator("#reading-temperature")).to_have_value("32.173")
    type_in(page, "23.173")  # what is there is selected
    saved(page, "1:00", "23.173")
    expect(note).to_be_hidden()
    assert kept(run)[-1] == (60.0, "23.173") and len(kept(run)) == 5
    assert run.strikes.get().reason == "mistyped: read 23.173"
    expect(page.locator("#typing-slot")).to_have_text("Reading at 1:15")


def test_enter_keeps_what_was_asked_about(lab: Laboratory, sign_in: SignIn) -> None:
    run = open_run(lab)
    page = at_the_bench(lab, sign_in, run)
    type_in(page, *FORE, "32.173")
    expect(page.locator("#typing-note")).to_be_visible()
    page.keyboard.press("Enter")
    expect(page.locator("#typing-note")).to_be_hidden()
    assert len(kept(run)) == 5 and not run.strikes.exists()


def test_what_cannot_be_read_is_asked_and_never_dropped(lab: Laboratory, sign_in: SignIn) -> None:
    run = open_run(lab)
    page = at_the_bench(lab, sign_in, run)
    type_in(page, "23.1.6")
    expect(page.locator("#typing-error")).to_contain_text("“23.1.6” is not a number")
    expect(page.locator("#reading-temperature")).to_have_value("23.1.6")
    page.locator("#reading-temperature").fill("")
    type_in(page, "1,234")
    asked = page.locator("#typing-asked li")
    expect(asked).to_contain_text("did you mean 1.234 or 1234")
    type_in(page, "23,170")
    saved(page, "0:15", "23,170")
    page.reload()
    expect(asked).to_contain_text("did you mean 1.234 or 1234")
    page.keyboard.press("ArrowUp")
    type_in(page, "21,234")
    expect(asked).to_have_count(0)
    assert sorted(kept(run)) == [(0.0, "21,234"), (15.0, "23,170")]
    expect(page.locator("#reading-temperature")).to_be_focused()


def test_one_key_marks_the_firing_when_confirmed(
    lab: Laboratory, sign_in: SignIn, server: time_machine.Coordinates
) -> None:
    run = open_run(lab, ready=True)
    bench = Bench(at_the_bench(lab, sign_in, run), server)
    page = bench.page
    type_in(page, "23.169")
    saved(page, "0:00", "23.169")
    bench.wait(33)
    page.keyboard.press("2")
    page.keyboard.press("F8")
    expect(page.locator("#firing-words")).to_contain_text("Fired at 0:3")
    page.keyboard.press("Escape")
    assert Run.objects.get(pk=run.pk).state == "open"
    page.keyboard.press("F8")
    page.keyboard.press("Enter")
    expect(page.locator("#firing-said")).to_contain_text("Firing marked at 0:3")
    expect(page.locator("#next-step-title")).to_have_text("Before completing")
    expect(page.locator("#run-head .page-title .state")).to_have_text("fired")
    type_in(page, "3.175")  # what was begun went on
    saved(page, "0:30", "23.175")
    run.refresh_from_db()
    figures = {entry.field: entry.text for entry in run.entries.all()}
    assert run.state == "fired" and figures["fired_by_clock"] == "pc"
    assert 33 <= float(figures["fired_at_s"]) < 40


def test_a_firing_that_something_stands_against_is_refused_while_typing_goes_on(
    lab: Laboratory, sign_in: SignIn
) -> None:
    run = open_run(lab)
    page = at_the_bench(lab, sign_in, run)
    type_in(page, "23.169")
    saved(page, "0:00", "23.169")
    page.keyboard.press("F8")
    page.keyboard.press("Enter")
    asked = page.locator("#typing-asked")
    expect(asked).to_contain_text("is not filled in yet")
    type_in(page, "23.170")
    saved(page, "0:15", "23.170")
    asked.get_by_role("button", name="Leave it out").click()
    expect(asked.locator("li")).to_have_count(0)
    run.refresh_from_db()
    assert run.state == "open" and not run.entries.filter(field="fired_at_s").exists()


def test_the_clock_is_started_by_a_button_and_goes_on_elsewhere(
    lab: Laboratory, sign_in: SignIn
) -> None:
    Method.objects.update(reading_interval_s=60)
    run = open_run(lab)
    page = at_the_bench(lab, sign_in, run)
    page.get_by_role("button", name="Start the clock").click()
    expect(page.locator("#pace-words")).to_contain_text("at 0:00")
    type_in(page, "23.169")
    saved(page, "0:00", "23.169")
    elsewhere = at_the_bench(lab, sign_in, run)
    expect(elsewhere.locator("#typing-slot")).to_have_text("Reading at 1:00")
    expect(elsewhere.locator("#pace-digits")).to_have_text(re.compile(r"0:5\d"))
    expect(elsewhere.locator("#slots li.saved")).to_have_count(1)


@pytest.mark.parametrize("width", [320, 360])
def test_typing_works_on_a_phone(lab: Laboratory, sign_in: SignIn, width: int) -> None:
    run = open_run(lab)
    page = at_the_bench(lab, sign_in, run)
    page.set_viewport_size({"width": width, "height": 640})
    field = page.locator("#reading-temperature")
    field.click()
    type_in(page, "23,169")
    saved(page, "0:00", "23,169")
    assert page.evaluate("document.scrollingElement.scrollWidth") <= width
    for target in ("#reading-temperature", "#reading-time", "#typing button", "#firing-key"):
        box = page.locator(target).bounding_box()
        assert box is not None and box["height"] >= 60 and box["width"] >= 60, target
    assert (
        page.locator("#pace-digits").evaluate(
            "(digits) => parseFloat(getComputedStyle(digits).fontSize)"
        )
        >= 80
    )


def test_without_scripts_the_form_is_posted(lab: Laboratory, sign_in: SignIn) -> None:
    run = open_run(lab)
    signed = sign_in(lab.group)
    plain = signed.context.browser.new_context(
        java_script_enabled=False, storage_state=signed.context.storage_state()
    )
    page = plain.new_page()
    page.goto(address(signed, run))
    for text in ("23.169", "23.170"):
        page.locator("#reading-temperature").fill(text)
        page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#readings-caption")).to_contain_text("2 in use")
    page.locator("#reading-time").fill("0:15")
    page.locator("#reading-temperature").fill("23.180")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#typing-error")).to_contain_text("you typed 23.180. Which?")
    page.get_by_role("button", name="Strike 23.170 out").click()
    assert kept(run) == [(0.0, "23.169"), (15.0, "23.180")]
    plain.close()

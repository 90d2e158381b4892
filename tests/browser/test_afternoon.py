"""The whole afternoon in a browser: standardize, approve, burn the unknown, see the history."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from labbook.models import Account, Run
from tests.labbook.conftest import AFTER_FIRING, BEFORE_FIRING, Laboratory, curve

DRAWN = "#thermogram .shapelayer path"
SignIn = Callable[[Account], Page]
CHOSEN = {"standard_lot", "fuse_lot", "titrant_lot", "leak_check", "soot"}


def fill_in(page: Page, figures: dict[str, str]) -> None:
    """Type each figure and wait until the page says it is saved."""
    page.wait_for_load_state("load")
    for key, text in figures.items():
        field = page.locator(f"#row-{key}")
        if key in CHOSEN:
            field.locator("select").select_option(text)
        else:
            page.locator(f"#field-{key}").fill(text)
            page.locator(f"#field-{key}").press("Enter")
        expect(page.locator(f"#row-{key} .saved")).to_contain_text("Saved")


def tick_checklist(page: Page) -> None:
    """One of those present goes through the list before firing, item by item."""
    checklist = page.locator("#checklist")
    checklist.get_by_role("radio", name="Ada Quill").check()
    expect(checklist.get_by_role("radio", name="Ada Quill")).to_be_checked()
    items = checklist.locator(".tick-button")
    for number in range(items.count()):  # pressed one after the other without waiting
        items.nth(number).click()
    for number in range(items.count()):
        expect(items.nth(number)).to_have_attribute("aria-pressed", "true")


def burn(page: Page, folder: Path, rise_k: float, before: dict[str, str]) -> None:
    """From an open sheet to a complete run, with readings from a file."""
    page.get_by_label("Ada Quill").first.check()
    fill_in(page, before)
    tick_checklist(page)
    page.get_by_label("Fired at, on the clock of the readings").fill("5:00")
    page.get_by_role("button", name="Mark the firing").click()
    expect(page.get_by_text("Firing marked")).to_be_visible()
    file = folder / f"rise-{rise_k}.csv"
    file.write_bytes(curve(rise_k))
    page.get_by_label("Logger file").set_input_files(file)
    page.get_by_role("button", name="Read this file").click()
    page.get_by_role("button", name="Use these 81 readings").click()
    expect(page.get_by_text("81 readings taken")).to_be_visible()
    page.get_by_role("link", name="Sheet", exact=True).click()
    fill_in(page, AFTER_FIRING)
    page.get_by_role("button", name="The data are complete").click()
    expect(page.get_by_role("heading", name="Energy balance")).to_be_visible()


@pytest.mark.django_db(transaction=True)
def test_the_whole_afternoon(lab: Laboratory, sign_in: SignIn, tmp_path: Path) -> None:
    group = sign_in(lab.group)
    expect(group.get_by_text("no approved standardization in force")).to_be_visible()
    for rise_k in (2.5, 2.505, 2.495):
        group.get_by_role("link", name="This afternoon").first.click()
        group.get_by_role("button", name="Open a standardization run").click()
        burn(group, tmp_path, rise_k, BEFORE_FIRING)
    group.get_by_role("link", name=re.compile(r"Standardization \d+")).click()
    group.get_by_role("button", name="Put it forward for approval").click()
    expect(group.get_by_text("Waiting for a TA")).to_be_visible()

    assistant = sign_in(lab.assistant)
    assistant.get_by_role("link", name="Look and decide").click()
    assistant.get_by_role("button", name="Approve").click()
    expect(assistant.get_by_text("Unknowns may now be opened")).to_be_visible()

    group.get_by_role("link", name="This afternoon").first.click()
    expect(group.get_by_text("Label on your vial: U-1")).to_be_visible()
    group.get_by_role("button", name="Open an unknown").click()
    before = {k: v for k, v in BEFORE_FIRING.items() if k != "standard_lot"}
    burn(group, tmp_path, 2.31, before | {"charge_gross_g": "13.6000"})
    expect(group.get_by_text("per mole once the sample is revealed")).to_be_visible()
    expect(group.locator("body")).not_to_contain_text("naphthalene")

    coordinator = sign_in(lab.coordinator)
    coordinator.get_by_role("link", name="Samples").click()
    coordinator.get_by_text("Reveal…").click()
    coordinator.get_by_role("button", name="Reveal U-1").click()

    group.reload()
    molar = Run.objects.get(kind=Run.Kind.UNKNOWN).result.dch_kj_per_mol
    card = group.locator(".figure-card.main", has_text="enthalpy of combustion")
    assert molar is not None
    expect(card).to_contain_text(f"−{abs(molar):.0f} ±")  # rounded by its uncertainty
    expect(group.get_by_text("Coleman & Pilcher 1966")).to_be_visible()

    assistant.get_by_role("link", name="Benches").first.click()
    assistant.get_by_role("link", name="Bench B1").click()
    expect(assistant.locator("#history .main-svg").first).to_be_visible()
    assistant.locator("#history-table").scroll_into_view_if_needed()
    expect(assistant.locator("tr.in-force")).to_contain_text("M1")


@pytest.mark.django_db(transaction=True)
def test_a_bound_is_moved_by_dragging_and_by_keyboard(
    lab: Laboratory, sign_in: SignIn, tmp_path: Path
) -> None:
    group = sign_in(lab.group)
    group.get_by_role("button", name="Open a standardization run").click()
    burn(group, tmp_path, 2.5, BEFORE_FIRING)
    group.get_by_role("link", name="Readings", exact=True).click()
    expect(group.locator(DRAWN).first).to_be_attached()
    run = Run.objects.get()
    with group.expect_response("**/bounds/"):
        group.get_by_label("After period from").fill("780")
        group.get_by_label("After period from").press("Tab")
    expect(group.get_by_label("After period from")).to_have_value("780")
    assert run.entries.filter(field="settled_at_s").last().text == "780"

    expect(group.locator(DRAWN).first).to_be_attached()
    x, y = middle_of_bound(group, "bound:settled_at_s")
    group.mouse.move(x, y)
    group.mouse.down()
    group.mouse.move(x + 60, y, steps=6)
    with group.expect_response("**/bounds/"):
        group.mouse.up()
    assert float(run.entries.filter(field="settled_at_s").last().text) > 780


def middle_of_bound(page: Page, name: str) -> tuple[float, float]:
    """Where on the screen a draggable mark of the thermogram stands."""
    plot = page.locator("#thermogram")
    plot.scroll_into_view_if_needed()
    box = plot.evaluate(
        """(plot, name) => {
            const index = plot.layout.shapes.findIndex((shape) => shape.name === name);
            const box = plot.querySelector(`path[data-index="${index}"]`).getBoundingClientRect();
            return [box.x + box.width / 2, box.y + box.height / 2];
        }""",
        name,
    )
    return box[0], box[1]

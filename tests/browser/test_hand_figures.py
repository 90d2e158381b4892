"""A group works a run by hand in the browser; ours come beside it only then."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page, expect

from labbook.models import Account, HandFigure
from tests.labbook.conftest import Laboratory, put_forward

Enter = Callable[[Account], Page]
FIGURES = {
    "Drift of the fore period": "4,80",
    "Drift of the after period": "-0.10",
    "Crossing, by the clock of the readings": "5:42",
    "Corrected temperature rise": "2.500",
}


def test_hand_figures_first_and_ours_beside_them(
    lab: Laboratory, sign_in: Enter, live_server: object
) -> None:
    lab.term.ours_unlock = "hand figures"
    lab.term.save()
    run = put_forward(lab).runs.order_by("pk").first()
    assert run is not None
    page = sign_in(lab.group)
    page.get_by_role("link", name="standardization 1", exact=True).click()
    page.get_by_role("link", name="Result", exact=True).click()
    expect(page.get_by_text("Enter your hand figures first")).to_be_visible()
    page.get_by_role("link", name="To the hand figures of this run").click()
    page.wait_for_load_state()
    for label, text in FIGURES.items():
        field = page.get_by_label(label).first
        field.fill(text)
        field.press("Tab")
        expect(page.locator(f"#row-{key_of(label)} .saved")).to_be_visible()
    stand = page.get_by_role("button", name="These are our hand figures")
    expect(stand).to_be_disabled()
    page.get_by_label("Unit of heat capacity of the calorimeter").select_option("kJ/K")
    page.locator("#field-capacity").fill("10.47")
    page.locator("#field-capacity").press("Tab")
    expect(stand).to_be_enabled()
    stand.click()
    expect(page.get_by_role("heading", name="Side by side")).to_be_visible()
    capacity = HandFigure.objects.filter(run=run, key="capacity").last()
    assert capacity is not None and (capacity.text, capacity.unit) == ("10.47", "kJ/K")


def key_of(label: str) -> str:
    keys = ("fore_drift", "after_drift", "crossing", "rise")
    return dict(zip(FIGURES, keys, strict=True))[label]

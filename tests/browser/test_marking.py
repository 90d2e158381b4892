"""A TA marks a hand-in in the browser: by keyboard, beside the curve, the points afterwards."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page, expect

from labbook.models import Account, Mark
from tests.labbook.conftest import Laboratory
from tests.labbook.marking import handed_in, scheme_of

Enter = Callable[[Account], Page]


def test_ticks_first_and_the_points_after(lab: Laboratory, sign_in: Enter) -> None:
    scheme_of(lab.term)
    handed_in(lab)
    page = sign_in(lab.assistant)
    page.get_by_role("link", name="Marking").click()
    page.get_by_role("link", name="Monday").click()
    page.get_by_role("link", name="Group M1").click()
    expect(page.get_by_text("Nothing has changed since it was handed in.")).to_be_visible()
    page.get_by_role("heading", name="Standardization run 1").click()
    page.get_by_text("The curve and the sheet", exact=True).click()
    expect(page.locator(".as-handed-in .main-svg").first).to_be_visible()
    expect(page.get_by_role("row", name="Titre of the washings")).to_contain_text("7.9")
    expect(page.locator(".worth")).to_have_count(0)
    for words in ("Both drift lines are drawn", "Δn is right"):
        page.get_by_label(words).press("Space")
    page.get_by_label("Remark for the group").fill("Say which input dominates.")
    page.get_by_role("button", name="Save the ticks").press("Enter")
    expect(page.get_by_role("heading", name="8 of 10 points")).to_be_visible()
    expect(page.locator(".worth")).to_have_count(4)
    mark = Mark.objects.get()
    assert (mark.by, mark.remark) == (lab.assistant, "Say which input dominates.")

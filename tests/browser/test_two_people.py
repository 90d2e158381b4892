"""Two tabs, two PCs: in one slot or one field both are asked, neither is overwritten."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from labbook.models import Run
from tests.labbook.conftest import Laboratory

from .bench import SignIn, address, at_the_bench, kept, open_run, saved, type_in

pytestmark = pytest.mark.django_db(transaction=True)


def both_at_zero(lab: Laboratory, sign_in: SignIn) -> tuple[Run, Page, Page]:
    """One tab saved the reading at 0:00; the other, which did not see it, typed another."""
    run = open_run(lab)
    first, second = at_the_bench(lab, sign_in, run), at_the_bench(lab, sign_in, run)
    second.route("**/since/**", lambda route: route.abort())  # as if both typed at once
    type_in(first, "23.100")
    saved(first, "0:00", "23.100")
    type_in(second, "23.105")
    expect(second.locator("#typing-asked")).to_contain_text("Reading at 0:00 saved as 23.100 by m1")
    return run, first, second


def test_the_second_reading_of_a_slot_is_asked_about_and_typing_goes_on(
    lab: Laboratory, sign_in: SignIn
) -> None:
    run, _, second = both_at_zero(lab, sign_in)
    type_in(second, "23.110")
    saved(second, "0:15", "23.110")
    assert kept(run) == [(0.0, "23.100"), (15.0, "23.110")]
    second.keyboard.press("ArrowUp")  # goes to what is asked
    second.keyboard.press("Enter")
    expect(second.locator("#typing-asked li")).to_have_count(0)
    assert sorted(kept(run)) == [(0.0, "23.100"), (0.0, "23.105"), (15.0, "23.110")]
    expect(second.locator("#reading-temperature")).to_be_focused()


def test_mine_is_right_strikes_the_other_out(lab: Laboratory, sign_in: SignIn) -> None:
    run, _, second = both_at_zero(lab, sign_in)
    second.get_by_role("button", name="Strike 23.100 out").click()
    saved(second, "0:00", "23.105")
    assert kept(run) == [(0.0, "23.105")]
    assert run.strikes.get().reason == "mistyped: read 23.105"


def test_mine_is_left_out_when_somebody_says_so(lab: Laboratory, sign_in: SignIn) -> None:
    run, _, second = both_at_zero(lab, sign_in)
    second.get_by_role("button", name="Leave mine out").click()
    expect(second.locator("#typing-asked li")).to_have_count(0)
    second.reload()
    saved(second, "0:00", "23.100")
    assert kept(run) == [(0.0, "23.100")]


def test_a_colleagues_reading_shows_without_typing(lab: Laboratory, sign_in: SignIn) -> None:
    run = open_run(lab)
    first, second = at_the_bench(lab, sign_in, run), at_the_bench(lab, sign_in, run)
    type_in(first, "23.100")
    saved(second, "0:00", "23.100")
    expect(second.locator("#typing-slot")).to_have_text("Reading at 0:15")


def test_two_in_one_field_are_asked(lab: Laboratory, sign_in: SignIn) -> None:
    run = open_run(lab)
    first, second = sign_in(lab.group), sign_in(lab.group)
    for page in (first, second):
        page.goto(address(page, run, ""))
        page.wait_for_load_state("load")
    for page, text in ((first, "13.0023"), (second, "13.0032")):
        page.locator("#field-charge_tare_g").fill(text)
        page.locator("#field-charge_tare_g").press("Enter")
        expect(page.locator("#row-charge_tare_g").locator(".saved, .conflict")).to_be_visible()
    question = second.locator("#row-charge_tare_g .conflict")
    expect(question).to_contain_text("Saved as 13.0023")
    question.get_by_role("button", name="Keep").click()
    expect(second.locator("#row-charge_tare_g .saved")).to_contain_text("Saved")
    assert [entry.text for entry in run.entries.filter(field="charge_tare_g")] == ["13.0023"]

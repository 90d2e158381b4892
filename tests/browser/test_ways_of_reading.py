"""Read by ear, in the reader's own colours, with wider spacing, by keyboard from the first key."""

from __future__ import annotations

import re

from playwright.sync_api import Browser, Locator, expect

from labbook import sheet
from labbook.typesetting.units import spoken_unit

from .everywhere import READERS, House
from .looking import look, open_wholly, reading


def test_every_figure_of_the_sheet_is_heard_with_its_unit(browser: Browser, house: House) -> None:
    with reading(browser, house, "group") as page:
        open_wholly(page, house.address_of("run, open"))
        measurable = [field for part in sheet.PARTS for field in part.fields if field.unit]
        heard = [field for field in measurable if page.locator(f"#field-{field.key}").count()]
        assert len(heard) > 10
        for field in heard:
            control = page.locator(f"#field-{field.key}")
            expect(control).to_have_accessible_name(re.compile(re.escape(field.words)))
            spoken = re.compile(re.escape(spoken_unit(field.unit)))
            expect(control).to_have_accessible_description(spoken)


def test_no_two_pages_have_one_title(house: House) -> None:
    for reader in READERS:
        titles: dict[str, set[str]] = {}
        for stop in house.seen_by(reader):
            page = house.clients[reader].get(stop.path).content.decode()
            title = re.search(r"<title>(.*?)</title>", page, re.DOTALL)
            titles.setdefault(title[1] if title else "", set()).add(stop.path)
        assert {title: paths for title, paths in titles.items() if len(paths) > 1} == {}


def test_the_first_key_leads_past_the_running_head(browser: Browser, house: House) -> None:
    with reading(browser, house, "group") as page:
        page.goto(house.address_of("afternoon"))
        page.keyboard.press("Tab")
        skip = page.get_by_role("link", name="Skip to the page")
        expect(skip).to_be_focused()
        expect(skip).to_be_in_viewport()
        page.keyboard.press("Enter")
        expect(page.locator("main")).to_be_focused()


def test_what_is_refused_is_told_at_the_field(browser: Browser, house: House) -> None:
    with reading(browser, house, "group") as page:
        page.goto(house.address_of("run, open"))
        field = page.locator("#field-room_c")
        field.fill("warm")
        field.press("Enter")
        expect(field).to_have_attribute("aria-invalid", "true")
        expect(field).to_have_accessible_description(re.compile("warm"))
    with reading(browser, house, "coordinator") as page:
        page.goto(house.address_of("setup_new, benches"))
        page.get_by_role("button", name="Save").click()
        refused = page.locator("main [aria-invalid=true]").first
        expect(refused).to_have_accessible_description(re.compile("needed"))


def test_pages_that_say_no_are_for_everyone_too(browser: Browser, house: House) -> None:
    with reading(browser, house, "group") as page:
        page.goto(house.address_of("run, open"))
        page.get_by_role("button", name="Mark the firing").click()
        expect(page.get_by_role("heading", name="This was not done")).to_be_visible()
        assert look(page) == []
        for path, says in (("/nowhere/", "no such page"), ("/review/", "not yours to open")):
            page.goto(house.url + path)
            expect(page.get_by_role("heading", level=1)).to_contain_text(says)
            assert look(page) == []


def test_a_password_may_be_pasted(browser: Browser, house: House) -> None:
    with reading(browser, house, "anonymous") as page:
        page.goto(house.address_of("sign_in"))
        password = page.get_by_label("Password")
        expect(password).to_have_attribute("autocomplete", "current-password")
        password.focus()
        page.evaluate("document.execCommand('insertText', false, 'copper kettle')")
        expect(password).to_have_value("copper kettle")


def test_nothing_moves_for_those_who_want_no_motion(browser: Browser, house: House) -> None:
    with reading(browser, house, "group") as page:
        page.goto(house.address_of("afternoon"))
        moving = page.locator("body *").evaluate_all(
            """(all) => all.filter((one) => /[1-9]/.test(getComputedStyle(one).transitionDuration)
                || getComputedStyle(one).animationName !== "none").length"""
        )
        assert moving == 0


def colour(locator: Locator, of: str) -> str:
    found: str = locator.evaluate("(element, of) => getComputedStyle(element)[of]", of)
    return found


def test_the_readers_own_colours_leave_marks_to_tell_apart(browser: Browser, house: House) -> None:
    with reading(browser, house, "assistant", forced_colors="active") as page:
        open_wholly(page, house.address_of("bench"))
        current = page.locator(".nav a[aria-current]")
        other = page.locator(".nav a:not([aria-current])").first
        assert colour(current, "borderBottomColor") != colour(other, "borderBottomColor")
        shape = page.locator(".state .shape").first
        assert shape.evaluate("(one) => getComputedStyle(one, '::before').content") != "none"


def test_a_curve_stays_in_sight_in_the_readers_own_colours(browser: Browser, house: House) -> None:
    with reading(browser, house, "assistant", forced_colors="active") as page:
        open_wholly(page, house.address_of("run_result"))
        ground = colour(page.locator("#thermogram .main-svg").first, "backgroundColor")
        line = page.locator("#thermogram .scatterlayer .js-line").first
        assert colour(line, "stroke") != ground
        periods = page.locator("#thermogram .shapelayer path[style*='fill-opacity']")
        shades = periods.evaluate_all(
            "(all) => all.map((one) => getComputedStyle(one).fillOpacity)"
        )
        assert any(0 < float(shade) < 0.5 for shade in shades)

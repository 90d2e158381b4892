"""Looking at a page the way its readers do: narrow, dark, by keyboard, by touch, by ear."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from playwright.sync_api import Browser, Page, ViewportSize

from .everywhere import House

MEASURE = (Path(__file__).parent / "measure.js").read_text()
AXE = Axe().axe_script
STANDARD = {
    "type": "tag",
    "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
}
COLOURS = {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}
# What a page may take to follow a change of its width: its curves are drawn anew.
PATIENCE_MS, PAUSE_MS = 2_000, 50
# The spacing that a reader may set: https://www.w3.org/TR/WCAG22/#text-spacing
WIDER_SPACING = """
const sheet = new CSSStyleSheet();
sheet.replaceSync(`* { line-height: 1.5 !important; letter-spacing: 0.12em !important;
  word-spacing: 0.16em !important; } p { margin-bottom: 2em !important; }`);
document.adoptedStyleSheets = [sheet];
"""
SCREEN: ViewportSize = {"width": 1280, "height": 800}
# A phone; and the screen at 400 %.
PHONE, ZOOMED = 360, 320


@contextmanager
def reading(browser: Browser, house: House, reader: str, **options: Any) -> Iterator[Page]:
    """A page of one reader, who wants no motion: nothing is measured half-way."""
    context = browser.new_context(viewport=SCREEN, reduced_motion="reduce", **options)
    kept = house.clients[reader].cookies.get(settings.SESSION_COOKIE_NAME)
    if kept is not None:
        context.add_cookies([{"name": kept.key, "value": kept.value, "url": house.url}])
    context.add_init_script(MEASURE)
    yield context.new_page()
    context.close()


def open_wholly(page: Page, address: str) -> bool:
    """Open a page, unfold all it holds, wait until its curves are drawn; no for what is no page."""
    answer = page.goto(address, wait_until="load")
    assert answer is not None and answer.status == 200, address
    if not answer.headers["content-type"].startswith("text/html"):
        return False
    page.evaluate("measure.unfold()")
    for plot in page.locator(".plot[data-figure]").all():
        plot.locator(".main-svg").first.wait_for()
    return True


def complaints(browser: Browser, house: House, reader: str) -> dict[str, list[str]]:
    """What stands in somebody's way on each page of a reader; sound pages are left out."""
    found: dict[str, list[str]] = {}
    with reading(browser, house, reader) as page:
        for stop in house.seen_by(reader):
            if open_wholly(page, house.url + stop.path):
                found[stop.name] = look(page)
    return {name: these for name, these in found.items() if these}


def look(page: Page) -> list[str]:
    found = [f"on paper, {one}" for one in found_by_axe(page, STANDARD)]
    page.emulate_media(color_scheme="dark")
    found += [f"on slate, {one}" for one in found_by_axe(page, COLOURS)]
    page.emulate_media(color_scheme="light")
    found += measured(page, "headings") + by_hand(page)
    for width in (PHONE, ZOOMED):
        page.set_viewport_size({"width": width, "height": 640})
        found += fitted(page, f"{width} px wide") + by_hand(page)
    page.set_viewport_size(SCREEN)
    page.evaluate(WIDER_SPACING)
    return found + fitted(page, "set wider")


def by_hand(page: Page) -> list[str]:
    return measured(page, "small") + measured(page, "covered")


def fitted(page: Page, how: str) -> list[str]:
    return [
        f"{how}, {one}" for what in ("sideways", "unnamed", "cut") for one in settled(page, what)
    ]


def measured(page: Page, what: str) -> list[str]:
    found: list[str] = page.evaluate(f"measure.{what}()")
    return found


def settled(page: Page, what: str) -> list[str]:
    """As ``measured``, once the page has had time to follow."""
    for _ in range(PATIENCE_MS // PAUSE_MS):
        if not measured(page, what):
            return []
        page.wait_for_timeout(PAUSE_MS)
    return measured(page, what)


def found_by_axe(page: Page, rules: dict[str, Any]) -> list[str]:
    """Each broken rule with the places that break it."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE)
    options = {"resultTypes": ["violations"], "runOnly": rules}
    answer = page.evaluate("(options) => axe.run(document, options)", options)
    return [
        f"{broken['id']}: {' | '.join(node['html'][:160] for node in broken['nodes'][:4])}"
        for broken in answer["violations"]
    ]

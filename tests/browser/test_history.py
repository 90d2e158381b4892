"""A bench's history in a real browser: pointing, the arrow keys, the table, a range, a switch."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from labbook.models import Account
from tests.labbook.conftest import Laboratory
from tests.labbook.histories import SOUND, approved_values, with_runs

SignIn = Callable[[Account], Page]
pytestmark = pytest.mark.django_db(transaction=True)
NEWEST = "run 1 10 080, run 2 10 092; mean of 3 runs, 10 086 J/K"


def bench_page(lab: Laboratory, sign_in: SignIn, path: str = "/benches/B1/") -> Page:
    for made in approved_values(lab, SOUND):
        with_runs(
            made, (10_080.0, 10_092.0), noise_k=0.001, fore_drift_k_per_s=1e-5,
            after_drift_k_per_s=-1e-5, time_to_95_s=180.0,
        )  # fmt: skip
    page = sign_in(lab.assistant)
    page.goto(page.url.split("/review/")[0] + path)
    expect(page.locator("#history .main-svg").first).to_be_visible()
    return page


def thin(text: str | None) -> str:
    """Text with plain spaces for the thin ones between digits."""
    return (text or "").replace("\u202f", " ")


def test_arrow_keys_go_along_the_points_and_say_their_runs(
    lab: Laboratory, sign_in: SignIn
) -> None:
    page = bench_page(lab, sign_in)
    plot, said = page.locator("#history"), page.locator("#history-point")
    plot.focus()
    plot.press("End")
    expect(said).to_contain_text("group H-B1")
    assert NEWEST in thin(said.text_content())
    expect(page.locator("#history .hoverlayer .hovertext").first).to_be_visible()
    plot.press("ArrowLeft")
    expect(said).to_contain_text("mean of 3 runs, 10")
    assert "10 110 J/K" in thin(said.text_content())
    plot.press("Home")
    assert "10 085 J/K" in thin(said.text_content())


def test_pointing_at_a_point_gives_its_runs(lab: Laboratory, sign_in: SignIn) -> None:
    page = bench_page(lab, sign_in)
    page.locator("#history").scroll_into_view_if_needed()
    x, y = page.locator("#history").evaluate(
        """(plot) => {
            const curve = plot.data.findIndex((trace) => trace.name === "in force");
            const { xaxis, yaxis } = plot._fullLayout;
            const point = plot.calcdata[curve][0];
            const box = plot.querySelector(".nsewdrag").getBoundingClientRect();
            return [box.x + xaxis.c2p(point.x), box.y + yaxis.c2p(point.y)];
        }"""
    )
    page.mouse.move(x - 30, y)
    page.mouse.move(x, y, steps=4)
    label = page.locator("#history .hoverlayer .hovertext").first
    expect(label).to_contain_text("group H-B1")
    assert "run 2 10 092" in thin(label.text_content())


def test_the_link_below_the_chart_leads_to_its_table(lab: Laboratory, sign_in: SignIn) -> None:
    page = bench_page(lab, sign_in)
    page.get_by_role("link", name="The same figures as a table").first.click()
    caption = page.locator("#history-caption")
    expect(caption).to_be_in_viewport()
    rows = page.locator("table", has=caption).locator("tbody tr")
    expect(rows).to_have_count(len(SOUND))
    expect(rows.last).to_contain_text("in force")


def test_a_range_redraws_chart_and_table_and_stays_in_the_address(
    lab: Laboratory, sign_in: SignIn
) -> None:
    page = bench_page(lab, sign_in)
    since = timezone.localdate() - timedelta(days=15)
    page.get_by_label("From").fill(f"{since}")
    page.get_by_label("From").blur()
    expect(page).to_have_url(re.compile(f"begins={since}"))
    rows = page.locator("table", has=page.locator("#history-caption")).locator("tbody tr")
    page.locator("#history-table").scroll_into_view_if_needed()
    expect(rows).to_have_count(3)
    expect(page.locator("#history .main-svg").first).to_be_visible()
    page.reload()
    page.locator("#history-table").scroll_into_view_if_needed()
    expect(rows).to_have_count(3)


def test_a_textbook_chart_is_switched_on(lab: Laboratory, sign_in: SignIn) -> None:
    approved_values(lab, SOUND, newest=timezone.now() - timedelta(days=70))
    page = bench_page(lab, sign_in)
    page.get_by_text("Textbook charts").click()
    page.get_by_label("CUSUM").check()
    expect(page.locator("#textbook-cusum .main-svg").first).to_be_visible()
    assert "charts=cusum" in page.url


def test_signs_of_wear_come_when_they_are_scrolled_to(lab: Laboratory, sign_in: SignIn) -> None:
    page = bench_page(lab, sign_in)
    page.get_by_role("heading", name="Signs of wear").scroll_into_view_if_needed()
    expect(page.locator("#wear-time-to-95 .main-svg").first).to_be_visible()
    charts = page.locator("#wear .plot")
    expect(charts).to_have_count(5)
    ranges = charts.evaluate_all("plots => plots.map((plot) => plot.layout.xaxis.range.join())")
    assert len(set(ranges)) == 1
    page.locator("#wear-noise-mk").focus()
    page.locator("#wear-noise-mk").press("End")
    expect(page.locator("#wear-noise-mk-point")).to_contain_text("1.00 mK")


def test_benches_side_by_side_are_drawn(lab: Laboratory, sign_in: SignIn) -> None:
    page = bench_page(lab, sign_in)
    page.get_by_role("link", name="Benches").first.click()
    page.get_by_role("link", name="Side by side").click()
    expect(page.locator("#across-B1 .main-svg").first).to_be_visible()
    expect(page.get_by_text("No values in this time.")).to_have_count(1)

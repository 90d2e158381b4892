"""A TA with the section's page open: it follows the benches, and keeps what is being typed."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page, expect

from labbook.actions import bench_log, runs
from labbook.models import Account, BenchEvent, Run
from tests.labbook.conftest import Laboratory, completed

PATIENCE_MS = 20_000
SignIn = Callable[[Account], Page]


def at_the_section(lab: Laboratory, sign_in: SignIn) -> Page:
    page = sign_in(lab.assistant)
    page.get_by_role("link", name="This afternoon", exact=True).click()
    expect(page.get_by_role("heading", name="B1, group M1")).to_be_visible()
    return page


def test_the_page_follows_the_benches_and_keeps_what_is_being_typed(
    lab: Laboratory, sign_in: SignIn
) -> None:
    run = runs.open_standardization_run(lab.bench, by=lab.group)
    page = at_the_section(lab, sign_in)
    page.get_by_text("Set aside").first.click()
    remark = page.get_by_label("Remark")
    remark.fill("leaked at the valve")
    bench_log.report_fault(lab.bench, "stirrer belt slips", by=lab.group)
    expect(page.get_by_text("1 open fault")).to_be_visible(timeout=PATIENCE_MS)
    expect(remark).to_have_value("leaked at the valve")
    page.get_by_label("Cause").select_option("leak")
    page.get_by_role("button", name="Set aside").click()
    expect(page.get_by_text("set aside. It stays visible.")).to_be_visible()
    run.refresh_from_db()
    assert (run.state, run.cause) == (Run.State.SET_ASIDE, "leak")


def test_a_sheet_is_signed_in_one_action_and_a_fault_reported_in_four(
    lab: Laboratory, sign_in: SignIn
) -> None:
    run = completed(runs.open_standardization_run(lab.bench, by=lab.group), lab)
    page = at_the_section(lab, sign_in)
    page.get_by_role("button", name="Sign the sheet of group M1").click()
    expect(page.get_by_text(f"M1, {run}: signed.")).to_be_visible()
    page.get_by_role("link", name="report a fault, take B1 out of service").click()
    page.get_by_text("Report a fault or near miss").click()
    page.get_by_label("What is wrong with bench B1").fill("valve leaks")
    page.get_by_role("button", name="Report a fault").click()
    expect(page.get_by_text("The fault is in the bench log.")).to_be_visible()
    assert BenchEvent.objects.get(kind="fault").words == "valve leaks"

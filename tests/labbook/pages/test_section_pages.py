"""The pages of a section's afternoon: all benches at a glance, preparing, who is here, the end."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from labbook.actions import afternoons, around_firing, bench_log, runs, standardizations
from labbook.actions import sheets as sheet_actions
from labbook.cautions import PREPARATION
from labbook.models import Account, Attendance, Group, Membership, Person, Role, Run

from ..conftest import (
    Laboratory,
    account,
    bench_with_configuration,
    completed,
    fill_in,
    fired,
    put_forward,
    ready_to_fire,
    signed_in,
)

HTMX = {"HX-Request": "true"}
MOST_QUERIES = 12


def path_of(lab: Laboratory, page: str = "") -> str:
    assert lab.group.group is not None
    return f"/sections/{lab.group.group.section_id}/{page}"


def seen_by(client: Client, lab: Laboratory, page: str = "") -> str:
    response = client.get(path_of(lab, page))
    assert response.status_code == 200
    return response.content.decode()


def busy_bench(lab: Laboratory, number: int) -> Account:
    """One more group of the section, with a fired run that gives reason for every kind of note."""
    assert lab.group.group is not None
    bench = bench_with_configuration(f"X{number}", lab.coordinator)
    group = Group.objects.create(section=lab.group.group.section, code=f"Q{number}", bench=bench)
    who = account(f"q{number}", Role.GROUP, group=group)
    person = Person.objects.create(name=f"Person {number}")
    Membership.objects.create(group=group, person=person, since=timezone.localdate())
    run = runs.open_standardization_run(bench, by=who)
    # Much water, a heavy charge and too much oxygen: two limits lock it, and the water is asked.
    fill_in(
        run,
        {
            "standard_lot": "S1", "charge_gross_g": f"14.2{number:02d}", "charge_tare_g": "13.0",
            "oxygen_atm": "45", "bucket_gross_g": "2900", "bucket_tare_g": "800",
        },
        who,
    )  # fmt: skip
    runs.unlock_limit(run, "oxygen", "tried", by=lab.coordinator)
    bench_log.report_fault(bench, "stirrer belt slips", by=lab.assistant)
    return who


def queries_of(client: Client, lab: Laboratory) -> int:
    with CaptureQueriesContext(connection) as caught:
        seen_by(client, lab)
    return len(caught)


def test_the_glance_costs_as_many_queries_for_twelve_benches_as_for_one(
    laboratory: Laboratory, assistant: Client
) -> None:
    busy_bench(laboratory, 1)
    with_one = queries_of(assistant, laboratory)
    for number in range(2, 13):
        busy_bench(laboratory, number)
    assert queries_of(assistant, laboratory) == with_one <= MOST_QUERIES


def test_every_bench_is_told_with_group_run_and_what_waits(
    laboratory: Laboratory, assistant: Client
) -> None:
    completed(runs.open_standardization_run(laboratory.bench, by=laboratory.group), laboratory)
    busy_bench(laboratory, 1)
    html = seen_by(assistant, laboratory)
    assert "B1</a>, group M1" in html and "X1</a>, group Q1" in html
    assert "1 firing locked" in html and "1 sheet to sign" in html
    assert "over the most charge" in html and "not answered" in html
    assert "1 open fault" in html


def test_a_standardization_put_forward_is_one_action_away(
    laboratory: Laboratory, assistant: Client
) -> None:
    found = put_forward(laboratory)
    html = seen_by(assistant, laboratory)
    assert "1 standardization to decide on" in html
    assert f'href="/standardizations/{found.pk}/">Look and decide' in html


def test_a_run_says_how_long_it_has_been_going_on(
    laboratory: Laboratory, assistant: Client
) -> None:
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    with time_machine.travel(timezone.now() + timedelta(minutes=7, seconds=2)):
        assert "opened 7 min ago" in seen_by(assistant, laboratory)
    fired(run, laboratory)
    assert "fired just now" in seen_by(assistant, laboratory)


def test_nothing_is_sent_while_nothing_has_changed(
    laboratory: Laboratory, assistant: Client
) -> None:
    with time_machine.travel(timezone.now(), tick=False):
        seen = assistant.get(path_of(laboratory)).context["seen"]
        again = assistant.get(path_of(laboratory), {"seen": seen}, headers=HTMX)
        assert again.status_code == 204 and not again.content


def changes(lab: Laboratory, run: Run) -> dict[str, Callable[[], object]]:
    assert lab.group.group is not None and run.standardization is not None
    section, own = lab.group.group.section, run.standardization
    return {
        "opened": lambda: runs.open_other_run(lab.bench, "blank", by=lab.group),
        "figure": lambda: sheet_actions.enter_figure(run, "oxygen_atm", "25", by=lab.group),
        "happening": lambda: around_firing.record_happening(run, "soot", "", by=lab.group),
        "fault": lambda: bench_log.report_fault(lab.bench, "belt", by=lab.group),
        "closed": lambda: standardizations.close_unfinished(own, "anew", by=lab.assistant),
        "released": lambda: afternoons.prepare_bench(
            section, lab.bench, list(PREPARATION), release=True, by=lab.assistant
        ),
    }


CHANGES = ("opened", "figure", "happening", "fault", "closed", "released")


@pytest.mark.parametrize("change", CHANGES)
def test_whatever_the_page_tells_changes_what_was_seen(
    laboratory: Laboratory, assistant: Client, change: str
) -> None:
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    with time_machine.travel(timezone.now(), tick=False):
        seen = assistant.get(path_of(laboratory)).context["seen"]
        changes(laboratory, run)[change]()
        part = assistant.get(path_of(laboratory), {"seen": seen}, headers=HTMX)
    assert part.status_code == 200
    assert part.content.decode().strip().startswith('<div class="stack" id="tiles"')


def test_a_sheet_is_signed_and_a_run_set_aside_from_the_page(
    laboratory: Laboratory, assistant: Client
) -> None:
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    completed(run, laboratory)
    response = assistant.post(path_of(laboratory, f"runs/{run.pk}/sign/"))
    assert response["Location"] == path_of(laboratory)
    run.refresh_from_db()
    assert run.state == Run.State.SIGNED
    sent = {"cause": "soot", "remark": "much of it"}
    assistant.post(path_of(laboratory, f"runs/{run.pk}/set-aside/"), sent)
    run.refresh_from_db()
    assert (run.state, run.cause) == (Run.State.SET_ASIDE, "soot")
    assert "soot or residue" in seen_by(assistant, laboratory)
    assert assistant.post(path_of(laboratory, f"runs/{run.pk}/burn/")).status_code == 404


def test_a_cause_that_was_forgotten_gives_back_what_was_sent(
    laboratory: Laboratory, assistant: Client
) -> None:
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    sent = {"cause": "", "remark": "leaked at the valve"}
    response = assistant.post(path_of(laboratory, f"runs/{run.pk}/set-aside/"), sent)
    assert response.status_code == 409 and "leaked at the valve" in response.content.decode()


def test_a_run_of_another_section_is_not_signed_from_here(
    laboratory: Laboratory, coordinator: Client
) -> None:
    theirs = runs.open_standardization_run(laboratory.other_bench, by=laboratory.stranger)
    response = coordinator.post(path_of(laboratory, f"runs/{theirs.pk}/sign/"))
    assert response.status_code == 404


def test_a_bench_is_released_and_its_group_is_told(
    laboratory: Laboratory, assistant: Client, group: Client
) -> None:
    sent = {"bench": "B1", "release": "no", "words": "no oxygen", "ticked": PREPARATION[0]}
    assert assistant.post(path_of(laboratory, "benches/"), sent).status_code == 302
    html = seen_by(assistant, laboratory, "benches/")
    assert "1 of 7 ticked" in html and "“no oxygen”" in html
    assert "no oxygen" in group.get("/afternoon/").content.decode()
    assert "not released" in seen_by(assistant, laboratory)
    ticked = {"bench": "B1", "release": "yes", "ticked": list(PREPARATION)}
    assistant.post(path_of(laboratory, "benches/"), ticked)
    assert "Released by ta at" in group.get("/afternoon/").content.decode()


def test_a_release_that_is_refused_keeps_what_was_ticked(
    laboratory: Laboratory, assistant: Client
) -> None:
    sent = {"bench": "B1", "release": "yes", "ticked": list(PREPARATION[:2])}
    answer = assistant.post(path_of(laboratory, "benches/"), sent)
    html = answer.content.decode()
    assert answer.status_code == 409 and "needs a reason" in html
    assert html.count(" checked>") == 2
    sent["words"] = "all was seen"
    answer = assistant.post(path_of(laboratory, "benches/"), sent, follow=True)
    assert "Bench B1 is released" in answer.content.decode()


def test_every_tick_of_a_refused_form_is_given_back(
    laboratory: Laboratory, assistant: Client
) -> None:
    laboratory.group.group.bench = None
    laboratory.group.group.save()
    sent = {"bench": "B1", "release": "yes", "ticked": list(PREPARATION[:2])}
    answer = assistant.post(path_of(laboratory, "benches/"), sent)
    html = answer.content.decode()
    assert answer.status_code == 409 and all(item in html for item in PREPARATION[:2])


def test_only_what_was_changed_on_the_page_is_marked(
    laboratory: Laboratory, assistant: Client
) -> None:
    person = laboratory.person.pk
    sent = {f"was-{person}": "", f"came-{person}": "late"}
    assistant.post(path_of(laboratory, "people/"), sent)
    # A page from before, saved with nothing chosen, takes nothing back.
    assistant.post(path_of(laboratory, "people/"), {f"was-{person}": ""})
    assistant.post(path_of(laboratory, "people/"), {f"was-{person}": "late", "others": "present"})
    assert [row.came for row in Attendance.objects.all()] == ["late"]


def test_all_others_are_present_in_one_action(laboratory: Laboratory, assistant: Client) -> None:
    absent = Person.objects.create(name="Bo Reed")
    Membership.objects.create(
        group=laboratory.group.group, person=absent, since=timezone.localdate()
    )
    sent = {
        f"was-{laboratory.person.pk}": "", f"was-{absent.pk}": "", f"came-{absent.pk}": "absent",
        "others": "present",
    }  # fmt: skip
    assistant.post(path_of(laboratory, "people/"), sent)
    marks = {row.person_id: row.came for row in Attendance.objects.all()}
    assert marks == {laboratory.person.pk: "present", absent.pk: "absent"}


def test_who_is_marked_absent_and_present_in_a_run_is_noted(
    laboratory: Laboratory, assistant: Client
) -> None:
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    ready_to_fire(run, laboratory)
    assert laboratory.group.group is not None
    section = laboratory.group.group.section
    afternoons.mark_attendance(section, {laboratory.person.pk: "absent"}, by=laboratory.assistant)
    assert "Which is right?" in seen_by(assistant, laboratory, "people/")
    afternoons.mark_attendance(section, {laboratory.person.pk: "late"}, by=laboratory.assistant)
    assert "Which is right?" not in seen_by(assistant, laboratory, "people/")


def test_a_visitor_is_found_and_seated(laboratory: Laboratory, assistant: Client) -> None:
    visitor = Person.objects.create(name="Ines Marlow", student_number="77123")
    Membership.objects.create(
        group=laboratory.stranger.group, person=visitor, since=timezone.localdate()
    )
    html = seen_by(assistant, laboratory, "people/?find=77123")
    assert "Ines Marlow, group F1, Friday" in html
    sent = {"person": visitor.pk, "group": laboratory.group.group_id}
    assistant.post(path_of(laboratory, "people/move/"), sent)
    assert "visitor from F1, Friday" in seen_by(assistant, laboratory, "people/")
    assert assistant.post(path_of(laboratory, "people/move/")).status_code == 409


def test_the_end_lists_what_is_unsigned_and_hands_it_over(
    laboratory: Laboratory, assistant: Client, coordinator: Client
) -> None:
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    completed(run, laboratory)
    assert "complete and not signed" in seen_by(assistant, laboratory, "end/")
    assistant.post(path_of(laboratory, "end/"), {"words": "belt is ordered"})
    signed = assistant.post(path_of(laboratory, f"runs/{run.pk}/sign/"), {"from": "end"})
    assert signed["Location"] == path_of(laboratory, "end/")
    for client, page in ((assistant, path_of(laboratory, "end/")), (coordinator, "/review/")):
        html = client.get(page).content.decode()
        assert "belt is ordered" in html and "complete and not signed" in html


def test_a_section_without_groups_and_an_assistant_without_sections_are_told_so(
    laboratory: Laboratory,
) -> None:
    bare = account("bare-ta", Role.ASSISTANT)
    assert "no section of a running term" in signed_in(bare).get("/sections/").content.decode()

"""Every address of the record against every persona. An address without a row fails."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import URLPattern, reverse

from labbook.api import addresses
from labbook.urls import urlpatterns

from .conftest import Afternoon

PERSONAS = ("anonymous", "group", "stranger", "assistant", "other_assistant", "coordinator")

# What GET gives each persona, in that order. 302 sends on, to the sign-in when anonymous.
HOME = (302, 302, 302, 302, 302, 302)
SIGN_IN = (200, 302, 302, 302, 302, 302)
ANOTHER_GROUP = (302, 200, 200, 302, 302, 302)
GROUPS = (302, 200, 200, 403, 403, 403)
STAFF = (302, 403, 403, 200, 200, 200)
COORDINATOR = (302, 403, 403, 403, 403, 200)
OWN = (302, 200, 404, 200, 404, 200)
OWN_SECTION = (302, 403, 403, 200, 404, 200)
BENCH = (302, 403, 404, 200, 200, 200)
SECTIONS = (302, 403, 403, 302, 302, 200)
SECTION = (302, 403, 403, 200, 404, 200)
EVERYBODY = (302, 200, 200, 200, 200, 200)
AT_BENCH = (302, 302, 409, 302, 302, 302)
POST_ONLY = (302, 405, 405, 405, 405, 405)
PUBLIC = (200, 200, 200, 200, 200, 200)
PAGES = [pattern for pattern in urlpatterns if isinstance(pattern, URLPattern)]
SEEN: dict[str, tuple[int, ...]] = {
    "home": HOME,
    "sign_in": SIGN_IN,
    "sign_out": POST_ONLY,
    "another_group": ANOTHER_GROUP,
    "switch_group": POST_ONLY,
    "afternoon": GROUPS,
    "runs": STAFF,
    "open_run": POST_ONLY,
    "run": OWN,
    "enter_figure": POST_ONLY,
    "note_presence": POST_ONLY,
    "tick_checklist": POST_ONLY,
    "answer_note": POST_ONLY,
    "record_happening": POST_ONLY,
    "open_again": POST_ONLY,
    "run_readings": OWN,
    "add_typed_reading": POST_ONLY,
    "start_clock": POST_ONLY,
    "mark_fired_by_clock": POST_ONLY,
    "reading": OWN,
    "strike_readings": POST_ONLY,
    "newer_readings": OWN,
    "listen_to_device": POST_ONLY,
    "take_over_by_typing": POST_ONLY,
    "move_bound": POST_ONLY,
    "hand_in_file": POST_ONLY,
    "file": OWN,
    "hand_figures": OWN,
    "save_hand_figures": POST_ONLY,
    "enter_hand_figure": POST_ONLY,
    "cite_literature": POST_ONLY,
    "confirm_literature": POST_ONLY,
    "run_result": OWN,
    "run_working": OWN,
    "run_working_data": OWN,
    "monte_carlo": POST_ONLY,
    "mark_fired": POST_ONLY,
    "unlock_limit": POST_ONLY,
    "complete_run": POST_ONLY,
    "report_misfire": POST_ONLY,
    "set_aside": POST_ONLY,
    "take_up": POST_ONLY,
    "sign_run": POST_ONLY,
    "standardization": OWN,
    "decide": POST_ONLY,
    "review_desk": STAFF,
    "sections": SECTIONS,
    "section": SECTION,
    "prepare_benches": SECTION,
    "attendance": SECTION,
    "seat_person": POST_ONLY,
    "hand_over": SECTION,
    "section_deed": POST_ONLY,
    "benches": STAFF,
    "bench": BENCH,
    "bench_table": BENCH,
    "bench_wear": BENCH,
    "bench_points": BENCH,
    "bench_signs": BENCH,
    "wear_table": BENCH,
    "compare_benches": STAFF,
    "change_bench": COORDINATOR,
    "freeze_limits": POST_ONLY,
    "decide_break": POST_ONLY,
    "exclude_point": POST_ONLY,
    "bench_log": BENCH,
    "log_deed": POST_ONLY,
    "mend_fault": POST_ONLY,
    "papers": EVERYBODY,
    "blank_sheet": EVERYBODY,
    "blank_sheet_pdf": EVERYBODY,
    "blank_plot_paper": EVERYBODY,
    "blank_plot_paper_pdf": EVERYBODY,
    "bench_labels": STAFF,
    "bench_labels_pdf": STAFF,
    "data_sheet": OWN,
    "data_sheet_pdf": OWN,
    "data_sheet_feet": OWN,
    "run_plot_paper": OWN,
    "run_plot_paper_pdf": OWN,
    "at_bench": AT_BENCH,
    "handing_in": OWN,
    "hand_in": POST_ONLY,
    "hand_in_version": OWN,
    "hand_in_package": OWN,
    "package_file": OWN,
    "samples": STAFF,
    "sealed_list": STAFF,
    "sealed_list_pdf": STAFF,
    "issue_samples": OWN_SECTION,
    "reveal_sample": POST_ONLY,
    "reveal_due_samples": POST_ONLY,
    "terms": COORDINATOR,
    "term": COORDINATOR,
    "begin_term": COORDINATOR,
    "roster": COORDINATOR,
    "take_roster": POST_ONLY,
    "slips": COORDINATOR,
    "close_term": COORDINATOR,
    "term_archive": POST_ONLY,
    "term_people": POST_ONLY,
    "term_marks": POST_ONLY,
    "retention": COORDINATOR,
    "purge_term": POST_ONLY,
    "hold_term": POST_ONLY,
    "lift_hold": POST_ONLY,
    "sign_ins": COORDINATOR,
    "end_sign_in": POST_ONLY,
    "open_sign_in": POST_ONLY,
    "setup": COORDINATOR,
    "setup_list": COORDINATOR,
    "setup_new": COORDINATOR,
    "setup_change": COORDINATOR,
    "rereductions": COORDINATOR,
    "rereduction": COORDINATOR,
    "work_on": POST_ONLY,
    "apply_rereduction": POST_ONLY,
    "devices": COORDINATOR,
    "revoke_device": POST_ONLY,
    "api_description": PUBLIC,
}

# What posting an empty form gives those who may not do the deed.
FORBIDDEN: dict[str, dict[str, int]] = {
    "open_run": {"assistant": 403, "other_assistant": 403, "coordinator": 403},
    "run": {"coordinator": 403},
    "enter_figure": {"coordinator": 403},
    "note_presence": {"coordinator": 403},
    "tick_checklist": {"coordinator": 403},
    "answer_note": {"coordinator": 403},
    "open_again": {"assistant": 403, "coordinator": 403},
    "record_happening": {"coordinator": 403},
    "add_typed_reading": {"coordinator": 403},
    "start_clock": {"coordinator": 403},
    "mark_fired_by_clock": {"coordinator": 403},
    "strike_readings": {},
    "listen_to_device": {},
    "take_over_by_typing": {"coordinator": 403},
    "move_bound": {},
    "hand_in_file": {},
    "file": {},
    "save_hand_figures": {"assistant": 403, "coordinator": 403},
    "enter_hand_figure": {"assistant": 403, "coordinator": 403},
    "mark_fired": {"coordinator": 403},
    "unlock_limit": {"group": 403},
    "complete_run": {"coordinator": 403},
    "report_misfire": {"coordinator": 403},
    "set_aside": {"group": 403},
    "take_up": {"group": 403},
    "sign_run": {"group": 403},
    "decide": {"group": 403},
    "hand_in": {"assistant": 403, "coordinator": 403},
}
# Every TA may do these on every bench; a group may not on its own.
ANY_ASSISTANTS = ("log_deed", "mend_fault")
SENT = {"run": {"room_c": "21"}}


OF_SECTION = ("section", "prepare_benches", "attendance", "seat_person", "hand_over")


def address(name: str, afternoon: Afternoon) -> str:
    section = {"pk": afternoon.lab.group.group.section_id}
    group: dict[str, Any] = {"pk": afternoon.lab.group.group.pk}
    arguments: dict[str, Any] = {
        **dict.fromkeys(OF_SECTION, section),
        "section_deed": section | {"run": afternoon.run.pk, "deed": "sign"},
        "file": {"pk": afternoon.file.pk},
        "handing_in": group,
        "hand_in": group,
        "hand_in_version": group | {"version": 1},
        "hand_in_package": group | {"version": 1},
        "package_file": group | {"version": 1, "name": "results.csv"},
        "standardization": {"pk": afternoon.standardization.pk},
        "decide": {"pk": afternoon.standardization.pk, "deed": "withdraw"},
        "reveal_sample": {"pk": afternoon.lab.sample.pk},
        "issue_samples": {"pk": afternoon.lab.group.group.section_id},
        "decide_break": {"pk": afternoon.cut.pk},
        "exclude_point": {"pk": afternoon.standardization.pk},
        "log_deed": {"code": afternoon.lab.bench.code, "deed": "out-of-service"},
        "mend_fault": {"code": afternoon.lab.bench.code, "pk": afternoon.fault.pk},
        "enter_figure": {"pk": afternoon.run.pk, "key": "room_c"},
        "enter_hand_figure": {"pk": afternoon.run.pk, "key": "rise"},
        "confirm_literature": {"pk": afternoon.run.pk, "value": 1},
        "reading": {"pk": afternoon.run.pk, "number": 3},
        "newer_readings": {"pk": afternoon.run.pk, "number": 0},
        "answer_note": {"pk": afternoon.run.pk, "code": "titre_missing"},
        "rereduction": {"pk": afternoon.plan.pk},
        "work_on": {"pk": afternoon.plan.pk},
        "apply_rereduction": {"pk": afternoon.plan.pk},
        "at_bench": {"label": afternoon.lab.bench.label},
        "setup_list": {"key": "benches"},
        "setup_new": {"key": "benches"},
        "setup_change": {"key": "benches", "pk": afternoon.lab.bench.pk},
    }
    route = str(next(pattern.pattern for pattern in PAGES if pattern.name == name))
    if "code>" in route and name not in arguments:
        return reverse(name, kwargs={"code": afternoon.lab.bench.code})
    if route.startswith("terms/<int:pk>"):
        return reverse(name, args=[afternoon.lab.term.pk])
    if "<int:pk>" in route and name not in arguments:
        return reverse(name, kwargs={"pk": afternoon.run.pk})
    return reverse(name, kwargs=arguments.get(name))


def test_every_address_has_its_row() -> None:
    assert {pattern.name for pattern in PAGES} == set(SEEN)


@pytest.mark.parametrize("persona", PERSONAS)
def test_what_each_persona_may_open(afternoon: Afternoon, persona: str) -> None:
    client = afternoon.client(persona)
    given = {name: client.get(address(name, afternoon)).status_code for name in SEEN}
    assert given == {name: row[PERSONAS.index(persona)] for name, row in SEEN.items()}


def test_the_anonymous_are_sent_to_the_sign_in_and_nowhere_else(afternoon: Afternoon) -> None:
    client = afternoon.client("anonymous")
    for name in set(SEEN) - {"sign_in", "api_description"}:
        for response in (
            client.get(address(name, afternoon)),
            client.post(address(name, afternoon)),
        ):
            assert response.status_code == 302, name
            assert response["Location"].startswith(reverse("sign_in")), name


@pytest.mark.parametrize("persona", ["stranger", "other_assistant"])
def test_another_groups_records_do_not_exist_for_posts_either(
    afternoon: Afternoon, persona: str
) -> None:
    client = afternoon.client(persona)
    for name in set(FORBIDDEN) - {"open_run"}:
        assert client.post(address(name, afternoon), SENT.get(name)).status_code == 404, name


@pytest.mark.parametrize("persona", ["group", "assistant", "other_assistant", "coordinator"])
def test_who_sees_a_record_may_not_do_everything_to_it(afternoon: Afternoon, persona: str) -> None:
    client = afternoon.client(persona)
    for name, row in FORBIDDEN.items():
        if persona in row:
            response = client.post(address(name, afternoon), SENT.get(name))
            assert response.status_code == row[persona], name


def test_the_log_of_a_bench_is_any_assistants_but_no_groups(afternoon: Afternoon) -> None:
    statuses = {"group": 403, "stranger": 404, "other_assistant": 409, "coordinator": 409}
    for persona, status in statuses.items():
        for name in ANY_ASSISTANTS:
            response = afternoon.client(persona).post(address(name, afternoon))
            assert response.status_code == status, (persona, name)


def test_an_afternoon_is_its_own_assistants_and_no_groups(afternoon: Afternoon) -> None:
    for persona, status in {"group": 403, "stranger": 403, "other_assistant": 404}.items():
        for name in (*OF_SECTION, "section_deed"):
            response = afternoon.client(persona).post(address(name, afternoon))
            assert response.status_code == status, (persona, name)


COORDINATORS_DEEDS = (
    "change_bench", "freeze_limits", "decide_break", "exclude_point", "setup_new",
    "setup_change", "rereductions", "work_on", "apply_rereduction", "devices", "revoke_device",
    "begin_term", "roster", "take_roster", "slips", "close_term", "term_archive", "term_people",
    "term_marks", "purge_term", "hold_term", "lift_hold", "end_sign_in", "open_sign_in",
)  # fmt: skip


# What the API answers without a token, whoever is signed in; the document describes, no more.
API_WITHOUT_TOKEN = {
    "openapi-json": ("get", 200),
    "send_readings": ("post", 401),
    "ping": ("get", 401),
    "api-root": ("get", 200),
}


@pytest.mark.parametrize("persona", PERSONAS)
def test_the_api_answers_nobody_without_a_token(afternoon: Afternoon, persona: str) -> None:
    client = afternoon.client(persona)
    assert {pattern.name for pattern in addresses()[0]} == set(API_WITHOUT_TOKEN)
    for name, (method, status) in API_WITHOUT_TOKEN.items():
        response = getattr(client, method)(reverse(f"api:{name}"))
        assert response.status_code == status, name


def test_setting_up_is_the_coordinators_also_by_post(afternoon: Afternoon) -> None:
    for persona in ("group", "stranger", "assistant", "other_assistant"):
        client = afternoon.client(persona)
        for name in COORDINATORS_DEEDS:
            assert client.post(address(name, afternoon), {"code": "B9"}).status_code == 403
    assert afternoon.client("group").post(address("reveal_sample", afternoon)).status_code == 403


@pytest.mark.parametrize(
    "path",
    [
        "/runs/99999/",
        "/runs/999999999999999999999999/",
        "/runs/999999999999999999999999/result/",
        "/runs/abc/",
        "/files/999999999999999999999999/",
        "/standardizations/99999999999999999999999/",
        "/benches/none/",
        "/set-up/nothing/",
        "/set-up/benches/999999999999999999999999/",
        "/nowhere/",
    ],
)
def test_what_does_not_exist_is_a_page_that_says_so(coordinator: Client, path: str) -> None:
    response = coordinator.get(path)
    assert response.status_code == 404
    assert "There is no such page" in response.content.decode()


def test_unknown_fields_and_deeds_are_not_found(afternoon: Afternoon) -> None:
    client = afternoon.client("assistant")
    assert client.post(f"/runs/{afternoon.run.pk}/figures/nothing/").status_code == 404
    decided = f"/standardizations/{afternoon.standardization.pk}/"
    assert client.post(f"{decided}delete/").status_code == 404

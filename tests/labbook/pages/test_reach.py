"""Every address of the record against every persona. An address without a row fails."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from labbook.urls import urlpatterns

from .conftest import Afternoon

PERSONAS = ("anonymous", "group", "stranger", "assistant", "other_assistant", "coordinator")

# What GET gives each persona, in that order. 302 sends on, to the sign-in when anonymous.
HOME = (302, 302, 302, 302, 302, 302)
SIGN_IN = (200, 302, 302, 302, 302, 302)
GROUPS = (302, 200, 200, 403, 403, 403)
STAFF = (302, 403, 403, 200, 200, 200)
COORDINATOR = (302, 403, 403, 403, 403, 200)
OWN = (302, 200, 404, 200, 404, 200)
BENCH = (302, 403, 404, 200, 200, 200)
POST_ONLY = (302, 405, 405, 405, 405, 405)
SEEN: dict[str, tuple[int, ...]] = {
    "home": HOME,
    "sign_in": SIGN_IN,
    "sign_out": POST_ONLY,
    "afternoon": GROUPS,
    "runs": STAFF,
    "open_run": POST_ONLY,
    "run": OWN,
    "enter_figure": POST_ONLY,
    "note_presence": POST_ONLY,
    "run_readings": OWN,
    "add_typed_reading": POST_ONLY,
    "strike_readings": POST_ONLY,
    "move_bound": POST_ONLY,
    "hand_in_file": POST_ONLY,
    "file": OWN,
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
    "benches": STAFF,
    "bench": BENCH,
    "bench_table": BENCH,
    "bench_wear": BENCH,
    "wear_table": BENCH,
    "compare_benches": STAFF,
    "change_bench": COORDINATOR,
    "freeze_limits": POST_ONLY,
    "decide_break": POST_ONLY,
    "exclude_point": POST_ONLY,
    "bench_log": BENCH,
    "log_deed": POST_ONLY,
    "mend_fault": POST_ONLY,
    "samples": STAFF,
    "reveal_sample": POST_ONLY,
    "setup": COORDINATOR,
    "setup_list": COORDINATOR,
    "setup_new": COORDINATOR,
    "setup_change": COORDINATOR,
    "rereductions": COORDINATOR,
    "rereduction": COORDINATOR,
    "work_on": POST_ONLY,
    "apply_rereduction": POST_ONLY,
}

# What posting an empty form gives those who may not do the deed.
FORBIDDEN: dict[str, dict[str, int]] = {
    "open_run": {"assistant": 403, "other_assistant": 403, "coordinator": 403},
    "run": {"coordinator": 403},
    "enter_figure": {"coordinator": 403},
    "note_presence": {"coordinator": 403},
    "add_typed_reading": {"coordinator": 403},
    "strike_readings": {},
    "move_bound": {},
    "hand_in_file": {},
    "file": {},
    "mark_fired": {"coordinator": 403},
    "unlock_limit": {"group": 403},
    "complete_run": {"coordinator": 403},
    "report_misfire": {"coordinator": 403},
    "set_aside": {"group": 403},
    "take_up": {"group": 403},
    "sign_run": {"group": 403},
    "decide": {"group": 403},
}
# Every TA may do these on every bench; a group may not on its own.
ANY_ASSISTANTS = ("log_deed", "mend_fault")
SENT = {"run": {"room_c": "21"}}


def address(name: str, afternoon: Afternoon) -> str:
    arguments: dict[str, Any] = {
        "file": {"pk": afternoon.file.pk},
        "standardization": {"pk": afternoon.standardization.pk},
        "decide": {"pk": afternoon.standardization.pk, "deed": "withdraw"},
        "reveal_sample": {"pk": afternoon.lab.sample.pk},
        "decide_break": {"pk": afternoon.cut.pk},
        "exclude_point": {"pk": afternoon.standardization.pk},
        "log_deed": {"code": afternoon.lab.bench.code, "deed": "out-of-service"},
        "mend_fault": {"code": afternoon.lab.bench.code, "pk": afternoon.fault.pk},
        "enter_figure": {"pk": afternoon.run.pk, "key": "room_c"},
        "rereduction": {"pk": afternoon.plan.pk},
        "work_on": {"pk": afternoon.plan.pk},
        "apply_rereduction": {"pk": afternoon.plan.pk},
        "setup_list": {"key": "benches"},
        "setup_new": {"key": "benches"},
        "setup_change": {"key": "benches", "pk": afternoon.lab.bench.pk},
    }
    route = str(next(pattern.pattern for pattern in urlpatterns if pattern.name == name))
    if "code>" in route and name not in arguments:
        return reverse(name, kwargs={"code": afternoon.lab.bench.code})
    if "<int:pk>" in route and name not in arguments:
        return reverse(name, kwargs={"pk": afternoon.run.pk})
    return reverse(name, kwargs=arguments.get(name))


def test_every_address_has_its_row() -> None:
    assert {pattern.name for pattern in urlpatterns} == set(SEEN)


@pytest.mark.parametrize("persona", PERSONAS)
def test_what_each_persona_may_open(afternoon: Afternoon, persona: str) -> None:
    client = afternoon.client(persona)
    given = {name: client.get(address(name, afternoon)).status_code for name in SEEN}
    assert given == {name: row[PERSONAS.index(persona)] for name, row in SEEN.items()}


def test_the_anonymous_are_sent_to_the_sign_in_and_nowhere_else(afternoon: Afternoon) -> None:
    client = afternoon.client("anonymous")
    for name in set(SEEN) - {"sign_in"}:
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


COORDINATORS_DEEDS = (
    "change_bench", "freeze_limits", "decide_break", "exclude_point", "setup_new",
    "setup_change", "rereductions", "work_on", "apply_rereduction",
)  # fmt: skip


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

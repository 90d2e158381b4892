"""Every address × method × persona, for one's own things and others', against the one table.

What is expected follows from the rows of ``labbook/addresses.py`` and ``labbook/access.py``; a new
address needs its row there. Here it needs a line in ``address`` when it takes more arguments than
a run, a term or a bench has, and one in ``SENT_ON`` when reading it leads elsewhere.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import URLPattern, reverse
from django.utils import timezone

from labbook.access import RIGHTS, Reach
from labbook.actions.devices import make_device, revoke_device
from labbook.actions.reading_tokens import make_reading_token
from labbook.actions.retention import hold_term
from labbook.addresses import ADDRESSES, PUBLIC, SEEN_BY, Address, check_addresses
from labbook.api import addresses
from labbook.models import Account, Device, LiteratureValue, ReadingToken, Role
from labbook.urls import urlpatterns

from .conftest import Afternoon

PERSONAS = ("anonymous", "group", "stranger", "assistant", "other_assistant", "coordinator")
ROLES = {
    "group": Role.GROUP,
    "stranger": Role.GROUP,
    "assistant": Role.ASSISTANT,
    "other_assistant": Role.ASSISTANT,
    "coordinator": Role.COORDINATOR,
}
# How far a right must reach, for the persona to have it for the group's things.
ENOUGH = {
    "group": {Reach.OWN, Reach.ALL},
    "stranger": {Reach.ALL},
    "assistant": {Reach.SECTIONS, Reach.TERMS, Reach.ALL},
    "other_assistant": {Reach.TERMS, Reach.ALL},
    "coordinator": {Reach.ALL},
}
METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")
# Read by those who may, these lead elsewhere: for everybody, or for some.
SENT_ON = {
    "home": PERSONAS,
    "sign_in": PERSONAS[1:],
    "another_group": ("assistant", "other_assistant", "coordinator"),
    "sections": ("assistant", "other_assistant"),
    "at_bench": PERSONAS,
}
# Answered with 404 unless a campus sign-on is set up, see ``test_campus_sign_on.py``.
NOT_SET_UP = {"campus_openid", "campus_openid_back", "campus_saml", "campus_saml_metadata"}
ALLOWED = 200


def has_right(persona: str, deed: str, of: str) -> bool:
    """Whether the table gives it to the persona's role, far enough for the thing it is about."""
    reach = RIGHTS[deed].get(ROLES[persona])
    return reach in ENOUGH[persona] if of else reach is not None


def expected(persona: str, address: Address, method: str, given: dict[str, Any]) -> int:
    """302 to the sign-in, 405, 401 without a token, or what the right reaches."""
    if persona == "anonymous" and not address.is_public:
        return 302
    if method not in address.methods:
        return 405
    deed = address.deed(method, given)
    if deed == PUBLIC:
        return ALLOWED
    if address.is_for_programs:
        return 401
    return reached(persona, address, deed)


def reached(persona: str, address: Address, deed: str) -> int:
    """403 for the role, 404 or 403 for the thing, or allowed."""
    if not has_right(persona, deed, ""):
        return 403
    if address.of and not has_right(persona, SEEN_BY[address.of], address.of):
        return 404
    return ALLOWED if has_right(persona, deed, address.of) else 403


PAGES = [pattern for pattern in urlpatterns if isinstance(pattern, URLPattern)]


def read_by(name: str, persona: str) -> int:
    """What GET gives the persona."""
    if name in NOT_SET_UP:
        return 404
    found = expected(persona, ADDRESSES[name], "GET", {})
    if name == "at_bench" and persona == "stranger":
        return 409
    return 302 if found == ALLOWED and persona in SENT_ON.get(name, ()) else found


SEEN: dict[str, tuple[int, ...]] = {
    str(pattern.name): tuple(read_by(str(pattern.name), persona) for persona in PERSONAS)
    for pattern in PAGES
    if pattern.name in ADDRESSES
}

OF_SECTION = (
    "section", "prepare_benches", "attendance", "seat_person", "hand_over", "section_marks",
    "give_marks_out", "section_marks_table",
)  # fmt: skip
OF_HAND_IN = ("mark_hand_in", "share_hand_in", "marks_spread")


def arguments_of(afternoon: Afternoon) -> dict[str, dict[str, Any]]:
    """What each address takes that takes more than a run, a term or a bench."""
    section = {"pk": afternoon.lab.group.group.section_id}
    group: dict[str, Any] = {"pk": afternoon.lab.group.group.pk}
    return {
        **dict.fromkeys(OF_SECTION, section),
        "section_deed": section | {"run": afternoon.run.pk, "deed": "sign"},
        "file": {"pk": afternoon.file.pk},
        **{name: {"pk": afternoon.hand_in.pk} for name in OF_HAND_IN},
        "handed_in_run": {"pk": afternoon.hand_in.pk, "number": afternoon.run.pk},
        "group_mark": group,
        "mark_scheme": {"pk": afternoon.lab.term.mark_scheme_id},
        "copy_mark_scheme": {"pk": afternoon.lab.term.mark_scheme_id},
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


def address(name: str, afternoon: Afternoon) -> str:
    arguments = arguments_of(afternoon)
    route = str(next(pattern.pattern for pattern in PAGES if pattern.name == name))
    if "code>" in route and name not in arguments:
        return reverse(name, kwargs={"code": afternoon.lab.bench.code})
    if route.startswith("terms/<int:pk>"):
        return reverse(name, args=[afternoon.lab.term.pk])
    if "<int:pk>" in route and name not in arguments:
        return reverse(name, kwargs={"pk": afternoon.run.pk})
    return reverse(name, kwargs=arguments.get(name))


@dataclass
class Call:
    """One way of calling an address: its row, where it is, and what it names."""

    name: str
    path: str
    sent: str
    given: dict[str, Any]


@pytest.fixture
def calls(afternoon: Afternoon) -> list[Call]:
    """Every address with the group's things, and where it names a deed each of them."""
    lab, run = afternoon.lab, afternoon.run
    device, _ = make_device(lab.bench, "thermometer", by=lab.coordinator)
    value = LiteratureValue.objects.create(
        run=run, dch_kj_per_mol=-5156, source="tables", edition="2", place="p. 3",
        at=timezone.now(), by=lab.group,
    )  # fmt: skip
    there = {
        "revoke_device": {"pk": device.pk},
        "lift_hold": {"pk": hold_term(lab.term, "an appeal", by=lab.coordinator).pk},
        "end_sign_in": {"pk": lab.stranger.pk},
        "open_sign_in": {"pk": lab.stranger.pk},
        "confirm_literature": {"pk": run.pk, "value": value.pk},
    }
    there["revoke_reading_token"] = {"pk": make_reading_token("a report", by=lab.assistant)[0].pk}
    there |= api_arguments({"code": lab.bench.code, "number": run.pk})
    there["api:open_standardization"] = {"number": afternoon.standardization.pk}
    made = []
    for name, row in ADDRESSES.items():
        sent = SENT.get(name, "").format(device=device.pk)
        path = reverse(name, kwargs=there[name]) if name in there else address(name, afternoon)
        if isinstance(row.writes, str):
            made.append(Call(name, path, sent, {}))
            continue
        above = path.rstrip("/").rpartition("/")[0]
        made += [Call(name, f"{above}/{deed}/", sent, {"deed": deed}) for deed in row.writes]
    return made


def api_arguments(known: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """What each address of the API is asked about."""
    return {
        f"api:{pattern.name}": {
            name: known[name] for name in re.findall(r"<(?:\w+:)?(\w+)>", str(pattern.pattern))
        }
        for pattern in addresses()[0]
    }


FORM = "application/x-www-form-urlencoded"
# What names a thing in the form itself.
SENT = {
    "open_run": "bench=B1",
    "prepare_benches": "bench=B1",
    "devices": "bench=B1",
    "listen_to_device": "device={device}",
}
# About something that was not made yet, or is only ever somebody's own: not found by some who may.
NOT_THERE = {"term_archive", "open_run", "revoke_reading_token", "campus_saml_back", *NOT_SET_UP}


# What comes in place of the sign-in page when there was something in the form.
TOO_LATE = b"You were signed out before this was sent"


def answer(client: Client, call: Call, method: str) -> int:
    """What a bare request gives; nothing it does is kept, so that each finds the same."""
    with transaction.atomic():
        response = client.generic(method, call.path, call.sent, FORM)
        transaction.set_rollback(True)
    is_sent_on = response.status_code == 302 and "?next=" in response["Location"]
    if is_sent_on or (response.status_code == 403 and TOO_LATE in response.content):
        return 302
    status = response.status_code
    is_done = status in (200, 204, 302, 409, 422) or (status == 404 and call.name in NOT_THERE)
    return ALLOWED if is_done else status


def tried(persona: str, client: Client, calls: list[Call]) -> dict[tuple[str, ...], object]:
    """Every call whose answer is another than the table's."""
    differ = {}
    kept = client.cookies.output()
    for call in calls:
        for method in METHODS:
            given = answer(client, call, method)
            wanted = expected(persona, ADDRESSES[call.name], method, call.given)
            if given != wanted:
                differ[call.path, method] = f"{given} in place of {wanted}"
            if client.cookies.output() != kept:
                client.cookies.load(kept.replace("Set-Cookie: ", ""))
    return differ


@pytest.mark.parametrize("persona", PERSONAS)
def test_every_address_and_method_answers_as_the_table_says(
    afternoon: Afternoon, calls: list[Call], persona: str
) -> None:
    assert tried(persona, afternoon.client(persona), calls) == {}


def test_a_closed_sign_in_reaches_as_much_as_none(afternoon: Afternoon, calls: list[Call]) -> None:
    clients = [afternoon.client(persona) for persona in ("group", "coordinator")]
    Account.objects.update(is_active=False)
    for client in clients:
        assert tried("anonymous", client, calls) == {}


def test_every_address_has_its_row_and_every_row_its_deed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert check_addresses() == []
    monkeypatch.delitem(ADDRESSES, "runs")
    monkeypatch.setitem(ADDRESSES, "run", Address("see runn", of="run"))
    monkeypatch.setitem(ADDRESSES, "elsewhere", Address("see run"))
    said = [error.msg for error in check_addresses()]
    assert len(said) == 3
    for words, sentence in zip(("runs", "see runn", "elsewhere"), said, strict=True):
        assert words in sentence


def test_an_address_without_a_row_is_answered_to_nobody(
    afternoon: Afternoon, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delitem(ADDRESSES, "papers")
    for persona in PERSONAS[1:]:
        assert afternoon.client(persona).get("/paper/").status_code == 403


@pytest.mark.parametrize("persona", PERSONAS)
def test_what_each_persona_may_open(afternoon: Afternoon, persona: str) -> None:
    client = afternoon.client(persona)
    given = {name: client.get(address(name, afternoon)).status_code for name in SEEN}
    assert given == {name: row[PERSONAS.index(persona)] for name, row in SEEN.items()}


def test_the_anonymous_are_sent_to_the_sign_in_and_from_there_back(afternoon: Afternoon) -> None:
    client = Client()
    for name in (name for name in SEEN if not ADDRESSES[name].is_public):
        path = address(name, afternoon)
        assert client.get(path).headers["Location"].startswith(f"{reverse('sign_in')}?next=/")


@pytest.mark.parametrize("persona", PERSONAS[1:])
def test_a_programs_token_reaches_as_far_as_the_account_that_made_it(
    afternoon: Afternoon, calls: list[Call], persona: str
) -> None:
    """A group may have none: one of its would open nothing."""
    account, token = getattr(afternoon.lab, persona), f"token of {persona}"
    ReadingToken.objects.create(
        account=account, name="a program", token_sha256=Device.digest(token), made_at=timezone.now()
    )
    client = Client(headers={"Authorization": f"Bearer {token}"})
    has_tokens = has_right(persona, "keep reading tokens", "")
    for call in (one for one in calls if ADDRESSES[one.name].is_for_programs):
        row = ADDRESSES[call.name]
        wanted = reached(persona, row, row.reads) if row.by_token and has_tokens else 401
        method = "GET" if row.reads else "POST"
        assert client.generic(method, call.path).status_code == wanted, call.path
    if persona == "coordinator":
        assert tried("anonymous", client, [one for one in calls if one.name in SEEN]) == {}


def test_a_device_reaches_its_own_two_addresses_by_its_token_and_nothing_else(
    afternoon: Afternoon, calls: list[Call]
) -> None:
    lab = afternoon.lab
    device, token = make_device(lab.bench, "logger", by=lab.coordinator)
    bearer = {"Authorization": f"Bearer {token}"}
    assert tried("anonymous", Client(headers=bearer), [c for c in calls if ":" not in c.name]) == {}
    assert Client(headers=bearer).get("/api/v1/ping").status_code == 200
    assert Client(headers=bearer).post("/api/v1/readings").status_code == 422
    revoke_device(device, by=lab.coordinator)
    assert Client(headers=bearer).get("/api/v1/ping").status_code == 401


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

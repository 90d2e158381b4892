"""Set-up: a laboratory led through in order, and refusals in our own words."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from labbook.forms.setup import KINDS
from labbook.models import Account, Bench, Group, Method, Part, Role, Section, ServicePlan

from ..conftest import Laboratory, account, signed_in


@pytest.fixture
def empty(db: None) -> Client:
    """A coordinator in a laboratory with nothing in it."""
    return signed_in(account("coordinator", Role.COORDINATOR))


def following(client: Client) -> str:
    html = client.get("/set-up/").content.decode()
    found = re.search(r'Next: <a href="/set-up/([\w-]+)/">', html)
    return found[1] if found else ""


def test_every_kind_stands_after_what_it_needs() -> None:
    seen: set[str] = set()
    for kind in KINDS:
        assert set(kind.after) <= seen, kind.key
        seen.add(kind.key)


def test_an_empty_laboratory_begins_with_its_parts(empty: Client) -> None:
    assert following(empty) == "parts"
    html = empty.get("/set-up/").content.decode()
    assert 'First: <a href="/set-up/parts/">parts</a>.' in html and "this can wait" in html


def test_sign_ins_come_before_sections_and_again_after_groups(
    laboratory: Laboratory, coordinator: Client
) -> None:
    assert following(coordinator) == ""
    section = Section.objects.get(name="Monday")
    Group.objects.create(section=section, code="M2", bench=laboratory.bench)
    html = coordinator.get("/set-up/").content.decode()
    assert following(coordinator) == "sign-ins" and "Groups without one: M2." in html
    Account.objects.filter(role=Role.ASSISTANT).update(is_active=False)
    assert "No TA has one yet." in coordinator.get("/set-up/").content.decode()


def test_a_bench_without_its_parts_is_named(laboratory: Laboratory, coordinator: Client) -> None:
    Bench.objects.create(code="B9")
    assert following(coordinator) == "benches"
    assert "Not recorded what it is made of: bench B9." in (
        coordinator.get("/set-up/").content.decode()
    )


@pytest.mark.parametrize(
    ("kind", "sent", "said"),
    [
        ("benches", {"code": "bench 1"}, "Letters A to Z, figures, - and _ only"),
        ("benches", {"code": ""}, "This is needed"),
        ("benches", {"code": "B1"}, "already exists"),
        ("service-plans", {"words": "new seals", "done_words": "they were", "every_days": "30"},
         "Say what it is for"),
        ("service-plans", {"words": "new seals", "done_words": "they were", "every_days": "-3",
                           "part_kind": "head"}, "0 or more was expected; -3 was typed"),
        ("terms", {"name": "t", "starts": "soon"}, "A date was expected"),
        ("fuse-lots", {"code": "W2", "material": "wire", "basis": "J/cm", "value": "much"},
         "A number was expected"),
        ("sections", {"name": "x" * 60}, "At most 40 characters are kept; 60 were typed."),
    ],
)  # fmt: skip
def test_a_refusal_says_what_was_expected(
    laboratory: Laboratory, coordinator: Client, kind: str, sent: dict[str, str], said: str
) -> None:
    response = coordinator.post(f"/set-up/{kind}/new/", sent)
    html = response.content.decode()
    assert response.status_code == 422 and said in html
    assert "Enter a" not in html and "Ensure this" not in html and "Select a" not in html


def test_a_plan_for_a_kind_and_a_part_is_told_to_choose(
    laboratory: Laboratory, coordinator: Client
) -> None:
    part = laboratory.bench.configuration.head
    sent = {"words": "new seals", "done_words": "they were", "every_days": "30"}
    both = sent | {"part_kind": "head", "part": str(part.pk)}
    html = coordinator.post("/set-up/service-plans/new/", both).content.decode()
    assert html.count("not both") == 1 and not ServicePlan.objects.exists()


@pytest.mark.parametrize(
    ("password", "said"),
    [("short", "At least 8 characters"), ("password", "among the first"), ("", "needs a password")],
)
def test_a_password_is_refused_once(coordinator: Client, password: str, said: str) -> None:
    sent = {"username": "x", "name": "x", "role": "assistant", "password": password}
    html = coordinator.post("/set-up/sign-ins/new/", sent).content.decode()
    assert said in html and html.count('class="errorlist"') == 1


@pytest.mark.parametrize("kind", [kind.key for kind in KINDS])
def test_lists_begin_with_what_to_do_and_boxes_have_their_label_beside(
    coordinator: Client, kind: str
) -> None:
    html = coordinator.get(f"/set-up/{kind}/new/").content.decode()
    assert "---------" not in html
    boxes = html.count('<input type="checkbox"')
    assert len(re.findall(r'<label class="tick"><input type="checkbox"', html)) == boxes


def test_the_checklist_before_firing_is_written_line_by_line(
    laboratory: Laboratory, coordinator: Client
) -> None:
    method = Method.objects.get()
    html = coordinator.get(f"/set-up/methods/{method.pk}/").content.decode()
    assert re.search(r'<textarea name="firing_checklist"[^>]*rows="9"', html)


def test_a_changed_record_shows_what_it_was_and_who_changed_it(
    laboratory: Laboratory, coordinator: Client
) -> None:
    part = {"kind": "bucket", "serial": "bucket-9", "remark": "oval"}
    coordinator.post("/set-up/parts/new/", part)
    made = Part.objects.get(serial="bucket-9")
    path = f"/set-up/parts/{made.pk}/"
    coordinator.post(path, part | {"remark": "dented on one side"})
    coordinator.post(path, part | {"remark": "dented on one side"})
    html = coordinator.get(path).content.decode()
    history = html[html.index("What it was before") :]
    assert re.search(r"<del>.*oval</del> dented on one side", history)
    assert history.count("<time") == 2, "saving without a change is no change"
    assert str(laboratory.coordinator) in history


def test_the_assistants_a_section_had_before_are_named(
    laboratory: Laboratory, coordinator: Client
) -> None:
    section = Section.objects.get(name="Monday")
    sent = {"term": section.term_id, "name": "Monday", "meets": ""}
    both = [laboratory.assistant.pk, laboratory.other_assistant.pk]
    for assistants in ([laboratory.assistant.pk], both, both[1:]):
        path = f"/set-up/sections/{section.pk}/"
        assert coordinator.post(path, sent | {"assistants": assistants}).status_code == 302
    history = coordinator.get(path).content.decode().split("What it was before")[1]
    assert str(laboratory.other_assistant) in history and "<del>" in history

"""What was refused: a page or a part with every reason, and what was sent given back."""

from __future__ import annotations

import pytest
from django.test import Client

from labbook.models import Run, Standardization

from ..conftest import Laboratory, colleague, put_forward, ready_to_fire, signed_in
from .conftest import HTMX

HUGE = 10 * 1024 * 1024


def test_the_page_of_a_refusal_lists_every_reason_and_the_way_back(
    group: Client, open_run: Run
) -> None:
    back = f"http://testserver/runs/{open_run.pk}/"
    response = group.post(f"/runs/{open_run.pk}/complete/", headers={"Referer": back})
    html = response.content.decode()
    assert response.status_code == 409 and "<html" in html
    assert "The firing has not been marked yet" in html and "Readings so far: 0." in html
    assert f'href="{back}"' in html


def test_htmx_gets_the_reasons_alone_into_the_messages(group: Client, open_run: Run) -> None:
    response = group.post(f"/runs/{open_run.pk}/complete/", headers=HTMX)
    html = response.content.decode()
    assert response.status_code == 409 and "<html" not in html
    assert response["HX-Retarget"] == "#messages"
    assert "The firing has not been marked yet" in html


def test_what_was_sent_is_given_back_escaped(
    laboratory: Laboratory, assistant: Client, open_run: Run
) -> None:
    ready_to_fire(open_run, laboratory)
    sent = {"cause": "bad luck", "remark": "<b>half a pellet</b>"}
    html = assistant.post(f"/runs/{open_run.pk}/set-aside/", sent).content.decode()
    assert "&lt;b&gt;half a pellet&lt;/b&gt;" in html and "Choose why" in html


def test_the_second_ta_is_told_on_the_page(laboratory: Laboratory, assistant: Client) -> None:
    found, second = put_forward(laboratory), signed_in(colleague(laboratory))
    path = f"/standardizations/{found.pk}/"
    seen = second.get(path).context["summary"].seen
    assert assistant.post(f"{path}approve/", {"seen": seen}).status_code == 302
    response = second.post(f"{path}send-back/", {"reason": "the spread"})
    html = response.content.decode()
    assert response.status_code == 409
    assert "is approved now by ta at" in html and "the spread" in html
    assert Standardization.objects.get().state == "approved"


def test_a_page_opened_before_a_change_approves_nothing(
    laboratory: Laboratory, group: Client, assistant: Client
) -> None:
    path = f"/standardizations/{put_forward(laboratory).pk}/"
    seen = assistant.get(path).context["summary"].seen
    group.post(f"{path}take-back/")
    run = Run.objects.get(replicate=1)
    group.post(f"/runs/{run.pk}/figures/water_ml/", {"water_ml": "2", "reason": "misread"})
    group.post(f"{path}put-forward/")
    response = assistant.post(f"{path}approve/", {"seen": seen})
    assert response.status_code == 409
    assert "The runs changed after you opened this page" in response.content.decode()


def test_an_unknown_before_approval_is_refused_whatever_the_page_shows(
    laboratory: Laboratory, group: Client
) -> None:
    put_forward(laboratory)
    assert "no approved standardization" in group.get("/afternoon/").content.decode()
    sent = {"bench": "B1", "kind": "unknown", "sample": "U-1"}
    response = group.post("/runs/open/", sent)
    assert response.status_code == 409
    assert "no approved standardization in force" in response.content.decode()
    assert not Run.objects.filter(kind="unknown").exists()


def test_a_locked_firing_is_refused_until_a_ta_unlocks_it(
    laboratory: Laboratory, group: Client, assistant: Client, open_run: Run
) -> None:
    ready_to_fire(open_run, laboratory, oxygen_atm="38")
    path = f"/runs/{open_run.pk}/"
    assert "Oxygen pressure 38 atm is above" in group.get(path).content.decode()
    assert group.post(f"{path}fired/", {"moment": "300"}).status_code == 409
    assert group.post(f"{path}unlock/", {"lock": "oxygen", "reason": "go"}).status_code == 403
    assert assistant.post(f"{path}unlock/", {"lock": "leak", "reason": "x"}).status_code == 409
    assert assistant.post(f"{path}unlock/", {"lock": "oxygen"}).status_code == 409
    unlocked = assistant.post(f"{path}unlock/", {"lock": "oxygen", "reason": "gauge reads high"})
    assert unlocked.status_code == 302
    assert group.post(f"{path}fired/", {"moment": "300"}).status_code == 302


@pytest.mark.parametrize(
    "sent",
    [
        {},
        {"bench": "B1"},
        {"bench": "B1", "kind": "nonsense"},
        {"bench": "B1", "kind": "unknown"},
        {"bench": "B1", "kind": "unknown", "sample": "\0"},
        {"bench": "\0", "kind": "standardization"},
        {"bench": "B2", "kind": "standardization"},
    ],
)
def test_opening_with_nonsense_opens_nothing(group: Client, sent: dict[str, str]) -> None:
    assert group.post("/runs/open/", sent).status_code in (404, 409)
    assert not Run.objects.exists()


@pytest.mark.parametrize(
    ("path", "field"),
    [
        ("figures/remarks/", "remarks"),
        ("figures/charge_gross_g/", "charge_gross_g"),
        ("figures/standard_lot/", "standard_lot"),
        ("readings/typed/", "temperature"),
        ("readings/strike/", "reason"),
        ("bounds/", "settled_at_s"),
        ("fired/", "moment"),
        ("present/", "writer"),
    ],
)
def test_megabytes_and_zero_bytes_in_a_field_are_refused(
    group: Client, open_run: Run, path: str, field: str
) -> None:
    sent = {"time": "0", "temperature": "20", "first": "1"}
    for text, statuses in (
        ("x" * HUGE, {400}),
        ("x" * (HUGE // 3), {409, 422}),
        ("a\0b", {409, 422}),
    ):
        response = group.post(f"/runs/{open_run.pk}/{path}", sent | {field: text})
        assert response.status_code in statuses
    assert not open_run.entries.exists() and not open_run.blocks.exists()


@pytest.mark.parametrize("deed", ["unlock", "set-aside", "take-up", "misfire"])
def test_reasons_of_any_length_never_break_a_deed(
    assistant: Client, open_run: Run, deed: str
) -> None:
    for text in ("x" * 3_000_000, "a\0b"):
        sent = {"reason": text, "remark": text, "cause": "other", "lock": "oxygen"}
        assert assistant.post(f"/runs/{open_run.pk}/{deed}/", sent).status_code == 409
    assert Run.objects.get().state == "open"


def test_more_than_can_be_read_is_answered_with_a_page(group: Client, open_run: Run) -> None:
    response = group.post(f"/runs/{open_run.pk}/", {"remarks": "x" * HUGE})
    assert response.status_code == 400
    assert "could not be read" in response.content.decode()


def test_a_group_may_not_open_a_run_for_staff_nor_staff_for_a_group(
    laboratory: Laboratory, assistant: Client
) -> None:
    sent = {"bench": "B1", "kind": "unknown", "sample": "U-1"}
    assert assistant.post("/runs/open/", sent).status_code == 403


def test_a_name_the_server_does_not_answer_to_is_a_page_that_says_so(client: Client) -> None:
    response = client.get("/sign-in/", headers={"host": "elsewhere.example"})
    assert response.status_code == 400
    assert "<h1" in response.content.decode()

"""The status page for coordinators, and what a program is told of the record's health."""

from __future__ import annotations

import json

import pytest
from django.contrib.sessions.models import Session
from django.db import DatabaseError
from django.test import Client

from labbook.actions.upkeep import note_upkeep
from labbook.lookups import status
from labbook.models import Upkeep

from ..conftest import Laboratory, signed_in
from .conftest import HTMX


def test_the_page_says_each_thing_in_words(coordinator: Client) -> None:
    page = coordinator.get("/status/").content.decode()
    for title in ("Last backup", "Room on the disk", "Clock", "Failed sign-ins", "Devices", "Mail"):
        assert f"<h2>{title}</h2>" in page
    assert "manage.py backup --to FOLDER" in page
    assert "No backup and no verification was made yet" in page


def test_the_evidence_is_verified_by_a_button(laboratory: Laboratory, coordinator: Client) -> None:
    page = coordinator.post("/status/verify/", follow=True).content.decode()
    assert "all as they were written" in page
    noted = Upkeep.objects.get()
    assert noted.kind == "verify" and noted.details["by"] == laboratory.coordinator.pk


def test_a_record_too_long_for_a_page_is_verified_by_the_command(coordinator: Client) -> None:
    note_upkeep("verify", "all of it", is_fine=True, by=None, details={"seconds": 45.0})
    page = coordinator.get("/status/").content.decode()
    assert "too long for a page" in page and "Verify the evidence now" not in page


def test_health_tells_anyone_how_it_stands_and_no_more(
    db: None, client: Client, laboratory: Laboratory
) -> None:
    for who in (client, signed_in(laboratory.assistant)):
        answer = who.get("/health/?full")
        assert answer.status_code == 200
        assert answer["Content-Type"] == "application/health+json"
        assert json.loads(answer.content) == {"status": "warn", "codes": ["backup"]}
        assert "no-store" in answer["Cache-Control"]


def test_asking_for_health_makes_no_session_and_few_statements(
    db: None, client: Client, django_assert_max_num_queries: object
) -> None:
    assert callable(django_assert_max_num_queries)
    with django_assert_max_num_queries(12):
        answer = client.get("/health/")
    assert not answer.cookies and not Session.objects.exists()


def test_coordinators_see_all_of_it(coordinator: Client) -> None:
    answer = json.loads(coordinator.get("/health/?full").content)
    assert {"backup", "disk", "clock"} <= {one["code"] for one in answer["checks"]}


def test_the_loopback_is_nobody_in_particular(client: Client, db: None) -> None:
    """Behind a proxy on the same machine, everybody comes from there."""
    answer = client.get("/health/?full", REMOTE_ADDR="127.0.0.1")
    assert "checks" not in json.loads(answer.content)


def test_a_database_that_does_not_answer_is_503(
    db: None, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def gone() -> None:
        raise DatabaseError("gone")

    monkeypatch.setattr(status, "health", gone)
    answer = client.get("/health/")
    assert answer.status_code == 503
    assert json.loads(answer.content) == {"status": "fail", "codes": ["database"]}


@pytest.mark.parametrize("headers", [{}, HTMX])
def test_verifying_is_not_for_others(laboratory: Laboratory, headers: dict[str, str]) -> None:
    for who in (laboratory.group, laboratory.assistant):
        assert signed_in(who).post("/status/verify/", headers=headers).status_code == 403
    assert not Upkeep.objects.exists()

"""The API describes itself: a document for programs, a page for people, from the same source."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from ..conftest import Laboratory
from .conftest import Sender, reading


@pytest.fixture
def document(db: None) -> dict[str, Any]:
    found: dict[str, Any] = Client().get("/api/v1/openapi.json").json()
    return found


def test_the_document_names_every_address_and_the_token(document: dict[str, Any]) -> None:
    asked = {path.removeprefix("/api/v1/") for path in document["paths"]}
    assert asked == {
        "readings", "ping", "terms", "benches", "benches/{code}/history", "runs", "runs/{number}",
        "runs/{number}/readings", "runs/{number}/result", "standardizations/{number}",
    }  # fmt: skip
    for scheme in document["components"]["securitySchemes"].values():
        assert scheme == {"type": "http", "scheme": "bearer"}
    for methods in document["paths"].values():
        for described in methods.values():
            assert described["security"] and "401" in map(str, described["responses"])


def test_the_document_describes_what_is_really_sent_and_answered(
    document: dict[str, Any], sender: Sender
) -> None:
    schemas = document["components"]["schemas"]
    asked = schemas["ReadingsIn"]["properties"]
    item = asked["readings"]["items"]
    assert set(item["required"]) == set(reading(1))
    assert set(sender.send(reading(1)).json()) == set(schemas["ReadingsOut"]["properties"])


def test_the_page_for_people_shows_every_field_and_loads_nothing_from_outside(
    document: dict[str, Any], laboratory: Laboratory
) -> None:
    response = Client().get(reverse("api_description"))
    assert response.status_code == 200
    shown = response.content.decode()
    schemas = {"ReadingsIn", "ReadingsOut", "LeftOut", "Heard", "Refusal", "RunRecord", "Result"}
    for schema in schemas | {"PointRecord", "ResultRecord", "BenchNow", "OneStandardization"}:
        for name in document["components"]["schemas"][schema]["properties"]:
            assert f"<code>{name}</code>" in shown, name
    assert not re.search(r'(?:src|href)="https?://', shown)
    assert "<style" not in shown and not re.search(r"<script(?![^>]* src=)", shown)


def test_an_unknown_address_under_the_api_is_not_found(db: None) -> None:
    response = Client().get("/api/v1/nothing")
    assert response.status_code in (302, 404)


def test_the_wrong_method_is_refused_without_a_fault(sender: Sender) -> None:
    assert Client().get("/api/v1/readings").status_code == 405
    assert json.loads(Client().post("/api/v1/readings").content)["why"]

"""Where the database itself is made to fail, and what must hold afterwards."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.db import connection
from django.test import Client

from labbook.actions import devices, runs
from labbook.lookups.chain import verify_evidence
from labbook.models import Account, Run

from ..conftest import Laboratory

needs_sqlite = pytest.mark.skipif(
    connection.vendor != "sqlite", reason="SQLite’s own way to fail; PostgreSQL has a test beside"
)
needs_postgresql = pytest.mark.skipif(
    connection.vendor != "postgresql", reason="PostgreSQL’s own way to fail; SQLite has one beside"
)


class Page:
    """A browser on the page of a run: it types readings and fills in the sheet."""

    def __init__(self, run: Run, by: Account) -> None:
        self.client, self.address = Client(raise_request_exception=False), f"/runs/{run.pk}"
        self.client.force_login(by)

    def type_reading(self, number: int) -> Any:
        fields = {"time": str(30 * number), "temperature": "20.123", "page_key": f"key-{number}"}
        headers = {"Accept": "application/json"}
        return self.client.post(f"{self.address}/readings/typed/", fields, headers=headers)

    def enter(self, key: str, text: str, **headers: str) -> Any:
        return self.client.post(f"{self.address}/figures/{key}/", {key: text}, headers=headers)


@pytest.fixture
def run(laboratory: Laboratory) -> Run:
    return runs.open_standardization_run(laboratory.bench, by=laboratory.group)


@pytest.fixture
def pc(run: Run, laboratory: Laboratory) -> Page:
    return Page(run, laboratory.group)


@pytest.fixture
def post_of_device(run: Run, laboratory: Laboratory) -> Any:
    """Sends one reading by a token; what comes back."""
    device, token = devices.make_device(laboratory.bench, "probe", by=laboratory.coordinator)
    devices.listen_to_device(run, device, by=laboratory.group)
    client = Client(raise_request_exception=False)

    def post() -> Any:
        body = {"sent_at": 9.0, "readings": [{"seq": 1, "clock": 9.0, "value": 20, "unit": "°C"}]}
        return client.post(
            "/api/v1/readings", json.dumps(body), content_type="application/json",
            headers={"Authorization": f"Bearer {token}"},
        )  # fmt: skip

    return post


def assert_whole() -> None:
    assert verify_evidence().breaks == ()

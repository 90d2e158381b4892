"""The interface for programs against its own description: no 500, answers as described."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labbook.lookups.chain import verify_evidence

from ..api.conftest import listening, sender
from ..conftest import Laboratory
from .described import Tokens, ask_as_described, tokens_of
from .hostile import TEXTS

__all__ = ["listening", "sender"]

EXAMPLES = 10


@pytest.mark.usefixtures("listening")
def test_every_address_answers_as_it_is_described(laboratory: Laboratory) -> None:
    found = ask_as_described(tokens_of(laboratory), EXAMPLES)
    assert found.faults == {}
    assert {200, 401, 404, 422} <= set(found.answers)
    assert verify_evidence().is_whole


leaf = st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.sampled_from(TEXTS))
reading = st.dictionaries(st.sampled_from(["seq", "clock", "value", "unit", "more"]), leaf)
post = st.fixed_dictionaries(
    {}, optional={"series": leaf, "sent_at": leaf, "readings": st.lists(reading | leaf) | leaf}
)


@pytest.mark.usefixtures("listening")
def test_a_device_may_send_anything(laboratory: Laboratory) -> None:
    tokens: Tokens = tokens_of(laboratory)
    client = Client(headers={"Authorization": f"Bearer {tokens.of_device}"})

    @settings(
        max_examples=60, derandomize=True, database=None, deadline=None,
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(post | leaf)
    def each(body: Any) -> None:
        sent = json.dumps(body)
        response = client.post("/api/v1/readings", sent, content_type="application/json")
        assert response.status_code in (200, 422)
        assert response.json().get("why") or response.status_code == 200

    each()
    assert verify_evidence().is_whole

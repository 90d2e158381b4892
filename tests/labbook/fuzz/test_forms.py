"""Every form and page against what nobody would send: an answer in words, nothing half-written."""

from __future__ import annotations

import pytest
from pytest_django import Settings

from ..pages.conftest import Afternoon, afternoon, pdf_as_its_page
from .asking import Found, ask
from .places import PERSONAS, Place, all_names, fields_of_forms, places

__all__ = ["afternoon", "pdf_as_its_page"]

# The whole number is asked for by ``python -m tests.load.fuzz``.
EXAMPLES = 2


@pytest.fixture(autouse=True)
def quick_passwords(settings: Settings) -> None:
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


def test_whatever_is_sent_is_answered_in_words(afternoon: Afternoon) -> None:
    found, there = Found(), places(afternoon)
    names = all_names(there)
    clients = {persona: afternoon.client(persona) for persona in PERSONAS}
    for number, place in enumerate(there):
        for persona in who_asks(place, number):
            ask(place, clients[persona], names, EXAMPLES, found)
    assert found.faults == {}
    assert found.writing > 0 and {200, 302, 403, 404, 409, 422} <= set(found.answers)


def who_asks(place: Place, number: int) -> list[str]:
    """Here the coordinator or the group, and one persona more, in turn."""
    first = "group" if place.path.startswith(("/runs/", "/groups/")) else "coordinator"
    return [first, PERSONAS[number % len(PERSONAS)]]


def test_the_fields_of_forms_are_those_of_the_pages(afternoon: Afternoon) -> None:
    """What is sent is sent to fields that are really read."""
    devices, bench = "/set-up/devices/", "/benches/B1/"
    known = fields_of_forms(afternoon, [("devices", devices), ("bench", bench)])
    assert {"bench", "name"} <= set(known[devices])
    assert known[devices]["bench"][:2] == ["B1", "B2"]
    assert "reason" in known[f"{bench}freeze/"]
    assert {"begins", "ends"} <= set(known[bench])

"""One request after the other, nothing of it kept, and what is wrong with the answers."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field
from html import unescape
from http.cookies import SimpleCookie
from typing import Any
from zlib import crc32

from django.db import transaction
from django.test import Client
from hypothesis import HealthCheck, Phase, given, seed, settings

from labbook.lookups.chain import verify_evidence
from labbook.models.evidence import Link

from .hostile import Sent, requests_to
from .places import Place

SENTENCE = re.compile(r"[A-Za-z][^.?!]{8,}[.?!]")
TAG = re.compile(r"<[^>]*>")
NUMBER = re.compile(r"(?<=/)\d+(?=/)")
VERIFIED_EVERY = 25
# These keep every sound field that comes along, whatever becomes of the others: nothing typed is
# lost. All else is kept wholly or not at all.
FIELD_BY_FIELD = {"run", "answer_note", "tick_checklist", "move_bound", "hand_figures"}


@dataclass
class Found:
    """What came back, by status, and the first request behind every fault."""

    answers: Counter[int] = field(default_factory=Counter)
    faults: dict[str, object] = field(default_factory=dict)
    writing: int = 0

    def note(self, fault: str, sent: object) -> None:
        self.faults.setdefault(fault, sent)


def ask(place: Place, client: Client, names: list[str], examples: int, found: Found) -> None:
    """So many hostile requests to a place, each place its own, the same at every call."""
    cookies = client.cookies.output(header="")

    @seed(crc32(f"{place.method} {place.path}".encode()))
    @settings(
        max_examples=examples,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(requests_to(place.known, names))
    def each(sent: Sent) -> None:
        with transaction.atomic():
            _judge(place, client, sent, found)
            transaction.set_rollback(True)
        client.cookies = SimpleCookie(cookies)

    each()


def _judge(place: Place, client: Client, sent: Sent, found: Found) -> None:
    links = Link.objects.count()
    try:
        response = _answer(place, client, sent)
    except Exception as error:  # whatever is raised would have been a 500
        found.answers[500] += 1
        found.note(f"{place.method} {place.name}: {type(error).__name__}: {error}"[:200], sent)
        return
    status = response.status_code
    found.answers[status] += 1
    where = f"{place.method} {place.name}: {status}"
    if status >= 500:
        found.note(where, sent)
    elif status >= 400:
        _judge_refusal(where, response, sent, found)
    if Link.objects.count() == links:
        return
    if status >= 400 and place.name not in FIELD_BY_FIELD:
        found.note(f"{where}, and yet something was written", sent)
    found.writing += 1
    if found.writing % VERIFIED_EVERY == 0 and not verify_evidence().is_whole:
        found.note(f"{where}, and the evidence does not verify", sent)


def _answer(place: Place, client: Client, sent: Sent) -> Any:
    path = NUMBER.sub(sent.number, place.path) if sent.number else place.path
    if place.method == "GET":
        response = client.get(f"{path}?{sent.query}", headers=sent.headers)
    else:
        response = client.generic(
            place.method, path, sent.body, sent.content_type, headers=sent.headers
        )
    if response.streaming:
        b"".join(response)
    return response


def _judge_refusal(where: str, response: Any, sent: Sent, found: Found) -> None:
    told = unescape(TAG.sub(" ", response.content.decode(errors="replace")))
    if not SENTENCE.search(told):
        found.note(f"{where} without a sentence", sent)

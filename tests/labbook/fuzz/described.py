"""Requests made from the interface's own OpenAPI document, by schemathesis."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import schemathesis
from django.core.signals import request_finished, request_started
from django.db import close_old_connections, transaction
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis import Case, GenerationMode
from schemathesis.core.failures import FailureGroup
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from labbook.actions.devices import make_device
from labbook.actions.reading_tokens import make_reading_token
from labbook.wsgi import application

from ..conftest import Laboratory
from .asking import Found

OF_DEVICES = ("/api/v1/readings", "/api/v1/ping")
DOCUMENT = "/api/v1/openapi.json"


@dataclass(frozen=True)
class Tokens:
    """One of a device, one of a program."""

    of_device: str
    of_program: str

    def to_ask(self, path: str) -> list[dict[str, str]]:
        """The token an address asks for, the other one, and none."""
        of_device, of_program = (
            {"Authorization": f"Bearer {token}"} for token in (self.of_device, self.of_program)
        )
        first = [of_device, of_program] if path in OF_DEVICES else [of_program, of_device]
        return [*first, {}]


def tokens_of(lab: Laboratory) -> Tokens:
    _, of_device = make_device(lab.bench, "described", by=lab.coordinator)
    _, of_program = make_reading_token("described", by=lab.coordinator)
    return Tokens(of_device, of_program)


def ask_as_described(tokens: Tokens, examples: int) -> Found:
    """So many requests to each address, some more with a wrong token; what is not as described."""
    found = Found()
    with _in_one_transaction():
        schema = schemathesis.openapi.from_wsgi(DOCUMENT, application)
        for result in schema.get_all_operations():
            operation = result.ok()
            right, *wrong = tokens.to_ask(operation.path)
            _ask(operation, right, examples, found)
            for headers in wrong:
                _ask(operation, headers, max(1, examples // 10), found)
    return found


@contextmanager
def _in_one_transaction() -> Iterator[None]:
    """The server would close the connection after each request, and with it the transaction."""
    signals = (request_started, request_finished)
    for signal in signals:
        signal.disconnect(close_old_connections)
    yield
    for signal in signals:
        signal.connect(close_old_connections)


CHECKS = [
    schemathesis.checks.not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
]


def _ask(operation: Any, headers: dict[str, str], examples: int, found: Found) -> None:
    """As described and as not described, half of each."""
    sound, spoiled = (
        operation.as_strategy(mode) for mode in (GenerationMode.POSITIVE, GenerationMode.NEGATIVE)
    )

    @settings(
        max_examples=examples,
        derandomize=True,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(sound | spoiled)
    def each(case: Case) -> None:
        with transaction.atomic():
            _judge(case, headers, found)
            transaction.set_rollback(True)

    each()


def _judge(case: Case, headers: dict[str, str], found: Found) -> None:
    response = case.call(headers=headers)
    found.answers[response.status_code] += 1
    try:
        case.validate_response(response, checks=CHECKS, headers=headers)
    except FailureGroup as failures:
        for failure in failures.exceptions:
            where = f"{case.method} {case.operation.path}: {response.status_code}"
            found.note(f"{where}: {failure.title}: {failure.message}"[:400], case.as_curl_command())

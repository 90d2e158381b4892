"""Something else holds the record for longer than is waited."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import psycopg
import pytest
from django.db import OperationalError, connection

from labbook.models import Run
from labbook.views.faults import FULL, GONE, HELD, UNKNOWN, Fault, fault_of

from .conftest import Page, assert_whole


@pytest.fixture
def held(transactional_db: None, run: Run) -> Iterator[Any]:
    """Another connection that has begun to write and does not end."""
    is_sqlite = connection.vendor == "sqlite"
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA busy_timeout = 50" if is_sqlite else "SET lock_timeout = '50ms'")
    other = connection.copy(alias="other")
    other.inc_thread_sharing()
    with other.cursor() as cursor:
        cursor.execute("BEGIN EXCLUSIVE" if is_sqlite else "BEGIN")
        if not is_sqlite:
            cursor.execute("LOCK TABLE labbook_run, labbook_book, labbook_device")
    yield other
    other.close()


def test_a_reading_is_answered_with_a_sentence_and_when_to_try_again(
    pc: Page, run: Run, held: Any
) -> None:
    answer = pc.type_reading(1)
    assert (answer.status_code, answer["Retry-After"]) == (503, "5")
    assert answer.json() == {"sentence": HELD.sentence}
    held.close()
    assert pc.type_reading(1).status_code == 200
    assert run.blocks.count() == 1
    assert_whole()


def test_a_form_is_answered_with_a_page_that_gives_back_what_was_sent(
    pc: Page, run: Run, held: Any
) -> None:
    answer = pc.enter("charge_gross_g", "13.9876")
    content = answer.content.decode()
    assert answer.status_code == 503 and "<!doctype html>" in content
    assert HELD.sentence in content and "13.9876" in content
    assert not run.entries.exists()


def test_htmx_gets_a_part_for_the_place_of_messages(pc: Page, held: Any) -> None:
    answer = pc.enter("charge_gross_g", "13.9876", **{"HX-Request": "true"})
    content = answer.content.decode()
    assert (answer.status_code, answer["HX-Retarget"]) == (503, "#messages")
    assert HELD.sentence in content and "<html" not in content


def test_a_device_gets_its_answer_as_data(post_of_device: Any, held: Any) -> None:
    answer = post_of_device()
    assert (answer.status_code, answer["Retry-After"]) == (503, "5")
    assert answer["Content-Type"] == "application/problem+json"  # RFC 9457, section 3
    assert (answer.json()["detail"], answer.json()["status"]) == (HELD.sentence, 503)


@pytest.mark.skipif(connection.vendor != "sqlite", reason="there the whole table is locked")
def test_pages_are_read_meanwhile(pc: Page, held: Any) -> None:
    assert pc.client.get(f"{pc.address}/").status_code == 200


@pytest.mark.parametrize(
    ("state", "fault"),
    [
        ("53100", FULL),
        ("53300", GONE),
        ("55P03", HELD),
        ("40P01", HELD),
        ("40001", HELD),
        ("57P01", GONE),
        ("57P03", GONE),
        ("08006", GONE),
        ("22001", UNKNOWN),
    ],
)
def test_postgresqls_codes_are_told_apart(state: str, fault: Fault) -> None:
    """disk_full, too_many_connections, lock_not_available, deadlock_detected,
    serialization_failure, admin_shutdown, cannot_connect_now, connection_failure,
    string_data_right_truncation: PostgreSQL 15, appendix A.
    """
    cause = psycopg.errors.lookup(state)("said by the server")
    error = OperationalError("wrapped")
    error.__cause__ = cause
    assert fault_of(error) is fault


def test_a_server_that_does_not_answer_is_gone() -> None:
    with pytest.raises(psycopg.OperationalError) as refused:
        psycopg.connect("postgres://nobody@127.0.0.1:1/none", connect_timeout=2)
    assert fault_of(refused.value) is GONE

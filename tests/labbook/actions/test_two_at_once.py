"""Two people acting in the same moment, on a database in a file as the server has it."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier

import pytest
from django.db import connection

from labbook.actions import runs, standardizations, typed_readings
from labbook.lookups.readings import readings_of
from labbook.lookups.standardizations import summary_of
from labbook.models import Account, Standardization
from labbook.problems import Refused

from ..conftest import Laboratory, colleague, put_forward


@pytest.fixture
def in_a_file(transactional_db: None, tmp_path: Path) -> Iterator[Callable[[], None]]:
    """Moves the test's database into a file, where every thread has its own connection."""
    memory, settings = connection.connection, connection.settings_dict
    name = settings["NAME"]

    def move() -> None:
        with sqlite3.connect(tmp_path / "labbook.sqlite3") as copy:
            connection.connection.backup(copy)
        copy.close()
        settings["NAME"] = str(tmp_path / "labbook.sqlite3")
        connection.connection = None

    connection.ensure_connection()
    memory = connection.connection
    yield move
    connection.close()
    settings["NAME"], connection.connection = name, memory


def at_once(*deeds: Callable[[], object]) -> list[object]:
    """What each deed gave, or the refusal it met; all start together."""
    together = Barrier(len(deeds))

    def attempt(deed: Callable[[], object]) -> object:
        together.wait()
        try:
            return deed()
        except Refused as refused:
            return refused
        finally:
            connection.close()

    with ThreadPoolExecutor(len(deeds)) as threads:
        return list(threads.map(attempt, deeds))


def test_of_two_tas_approving_one_wins(
    in_a_file: Callable[[], None], laboratory: Laboratory
) -> None:
    found, second = put_forward(laboratory), colleague(laboratory)
    seen = summary_of(found).seen
    in_a_file()

    def approve(by: Account) -> Callable[[], object]:
        own = Standardization.objects.get(pk=found.pk)
        return lambda: standardizations.approve(own, by=by, seen=seen)

    given = at_once(approve(laboratory.assistant), approve(second))
    won = [one for one in given if isinstance(one, Standardization)]
    told = [str(one) for one in given if isinstance(one, Refused)]
    assert len(won) == 1 and len(told) == 1
    assert f"is approved now by {won[0].approved_by} at" in told[0]
    assert found.decisions.filter(deed="approved").count() == 1


def test_readings_typed_at_once_are_all_kept(
    in_a_file: Callable[[], None], laboratory: Laboratory
) -> None:
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    in_a_file()

    def type_one(number: int) -> Callable[[], object]:
        return lambda: typed_readings.add_typed_reading(run, str(number), "20", by=laboratory.group)

    at_once(*(type_one(number) for number in range(8)))
    found = readings_of(run)
    assert found.numbers.tolist() == list(range(1, 9))
    assert sorted(found.times_s.tolist()) == list(range(8))

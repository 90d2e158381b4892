"""Two people acting in the same moment, each on a connection of their own as the server has it."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

from django.db import connection

from labbook.actions import runs, standardizations, typed_readings
from labbook.lookups.readings import readings_of
from labbook.lookups.standardizations import summary_of
from labbook.models import Account, Standardization
from labbook.problems import Refused

from ..conftest import Laboratory, colleague, put_forward


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


def test_of_two_tas_approving_one_wins(transactional_db: None, laboratory: Laboratory) -> None:
    found, second = put_forward(laboratory), colleague(laboratory)
    seen = summary_of(found).seen

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
    transactional_db: None, laboratory: Laboratory
) -> None:
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)

    def type_one(number: int) -> Callable[[], object]:
        return lambda: typed_readings.add_typed_reading(run, str(number), "20", by=laboratory.group)

    at_once(*(type_one(number) for number in range(8)))
    found = readings_of(run)
    assert found.numbers.tolist() == list(range(1, 9))
    assert sorted(found.times_s.tolist()) == list(range(8))

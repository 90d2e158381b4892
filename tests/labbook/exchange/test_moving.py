"""A record moved between SQLite and PostgreSQL: every row, equal heads, there and back."""

from __future__ import annotations

from collections.abc import Iterator
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection, connections

from labbook.exchange import moving
from labbook.exchange.databases import configuration_of, opened
from labbook.exchange.moving import move_record
from labbook.guards import missing_guards, without_guards
from labbook.lookups.chain import verify_evidence
from labbook.models import FiringCheck, ReadingBlock, Run, SheetEntry, Term, Upkeep
from labbook.problems import Refused

from ..conftest import Laboratory, completed, unknown
from ..scratch import postgresql_database

pytestmark = pytest.mark.usefixtures("databases_beside")


@pytest.fixture
def burned(laboratory: Laboratory) -> Run:
    """A record with a bit of everything: an approved standardization and a burned unknown."""
    return completed(unknown(laboratory), laboratory, rise_k=2.31)


@pytest.fixture
def beside(tmp_path: Path) -> str:
    """The address of an empty SQLite file."""
    return f"sqlite:///{tmp_path / 'moved.sqlite3'}"


@pytest.fixture
def there_and_back(beside: str) -> Iterator[tuple[str, str]]:
    """The other kind of database than the test's own, and one of its kind to come back to."""
    with postgresql_database() as postgresql:
        yield (postgresql, beside) if connection.vendor == "sqlite" else (beside, postgresql)


def test_there_and_back_everything_is_equal(burned: Run, there_and_back: tuple[str, str]) -> None:
    Term.objects.update(ours_unlock="never")  # Migrating sets it: there, and not here.
    there, back = map(configuration_of, there_and_back)
    before = verify_evidence()
    with opened(there) as first, opened(back) as second:
        one = move_record("default", first)
        two = move_record(first, second)
        assert connections[first].vendor != connections[second].vendor
        assert one.tables == two.tables
        assert one.found.heads == two.found.heads == before.heads
        assert two.found.is_whole and two.found.links == before.links
        for alias in ("default", first, second):
            assert missing_guards(alias) == []
            assert Term.objects.using(alias).get().ours_unlock == "never"
            assert dumped(alias) == dumped("default")
            assert curves(alias) == curves("default")
        new_rows_are_numbered_on(burned, first)
        with pytest.raises(Refused, match="holds a record already; nothing was changed"):
            move_record("default", first)


def dumped(alias: str) -> str:
    """Rows as Django's own ``dumpdata`` writes them, which is no part of the move."""
    out = StringIO()
    labels = ["labbook.Account", "labbook.SheetEntry", "labbook.Decision", "labbook.Link"]
    call_command("dumpdata", *labels, database=alias, use_base_manager=True, stdout=out)
    return out.getvalue()


def curves(alias: str) -> list[bytes]:
    blocks = ReadingBlock._base_manager.using(alias).order_by("pk")
    return [bytes(block.times_s) + bytes(block.temperatures_c) for block in blocks]


def new_rows_are_numbered_on(run: Run, alias: str) -> None:
    last = SheetEntry.objects.order_by("pk").last()
    assert last is not None
    entry = SheetEntry(run_id=run.pk, field="remarks", text="later", at=last.at, by_id=last.by_id)
    SheetEntry.objects.using(alias).bulk_create([entry])
    assert entry.pk > last.pk


def test_a_row_that_does_not_arrive_keeps_nothing(
    burned: Run, beside: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    copy = moving._copy

    def lose_happenings(model: moving.Model, source: str, target: str) -> None:
        if model is not FiringCheck:
            copy(model, source, target)

    monkeypatch.setattr(moving, "_copy", lose_happenings)
    with opened(configuration_of(beside)) as other:
        with pytest.raises(Refused, match="FiringCheck did not arrive as it is here"):
            move_record("default", other)
        assert not Term.objects.using(other).exists()


def test_the_command_moves_a_broken_record_as_broken_and_says_what_to_do(
    burned: Run, beside: str
) -> None:
    entry = burned.entries.get(field="titre_ml")
    with without_guards(), connection.cursor() as cursor:
        cursor.execute("UPDATE labbook_sheetentry SET text = '1.1' WHERE id = %s", [entry.pk])
    out = StringIO()
    call_command("move", to=beside, stdout=out)
    assert "equal on both sides" in out.getvalue()
    assert f"Heads: {verify_evidence().heads}" in out.getvalue()
    assert "leave LABBOOK_DATABASE_URL unset" in out.getvalue()
    with opened(configuration_of(beside)) as other:
        assert [one.sentence for one in verify_evidence(using=other).breaks] == [
            f"sheetentry {entry.pk} is not as it was written."
        ]
        noted = Upkeep.objects.using(other).get()
        assert noted.kind == "move" and not noted.is_fine


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("mysql://localhost/labbook", "names no database"),
        ("nonsense", "names no database"),
        ("sqlite:////no/such/folder/x.sqlite3", "There is no folder /no/such/folder"),
        ("postgres://nobody@127.0.0.1:1/labbook", "cannot be opened"),
    ],
)
def test_an_address_that_leads_nowhere_is_a_sentence(db: None, address: str, said: str) -> None:
    with pytest.raises(CommandError, match=said):
        call_command("move", to=address)

"""Taking a record over into another database, every row of it, proved equal before it is kept.

Rows go by Django's fields, so that dates, numbers and bytes arrive as the other database writes
them. Everything happens in one transaction of the new database: it holds all or nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from typing import Any

from django.apps import apps
from django.core.management import call_command
from django.core.management.color import no_style
from django.db import DatabaseError, connections, models, transaction

from ..lookups.chain import Verified, verify_evidence
from ..lookups.versions import missing_migrations
from ..models.evidence import digest_of
from ..problems import refuse
from .databases import holds_records

AT_ONCE = 500
AT_ONCE_WITH_FILES = 20
Model = type[models.Model]
Follow = Callable[[Sequence[Model]], Iterable[Model]]


@dataclass(frozen=True)
class Table:
    """How much a table holds; ``digest`` is the same for the same rows on every database."""

    rows: int
    digest: str


@dataclass(frozen=True)
class Moved:
    tables: dict[str, Table]
    found: Verified

    @property
    def rows(self) -> int:
        return sum(table.rows for table in self.tables.values())


def move_record(source: str, target: str, follow: Follow = iter) -> Moved:
    """Copy the record of one database into another that is empty; both are given as aliases."""
    _refuse_unless_ready(source, target)
    call_command("migrate", database=target, interactive=False, verbosity=0)
    every = list(apps.get_models(include_auto_created=True))
    with _at_one_moment(source), transaction.atomic(using=target):
        _empty(target)
        for model in follow(every):
            _copy(model, source, target)
        _number_on(every, target)
        tables = {model._meta.label: _equal_tables(model, source, target) for model in every}
        found = _equal_evidence(source, target)
    return Moved(tables, found)


def _refuse_unless_ready(source: str, target: str) -> None:
    missing = missing_migrations(source)
    if missing:
        raise refuse(
            "not migrated", f"The record lacks {missing[0]}. Run “manage.py migrate” first."
        )
    if holds_records(target):
        raise refuse(
            "not empty",
            "The database to move to holds a record already; nothing was changed. Name an empty "
            "one.",
        )


@contextmanager
def _at_one_moment(using: str) -> Iterator[None]:
    """The record as it is now: SQLite lets nobody else write, PostgreSQL shows no later row."""
    connection = connections[using]
    is_outermost = not connection.in_atomic_block
    with transaction.atomic(using=using):
        if connection.vendor == "postgresql" and is_outermost:
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
        yield


def _empty(target: str) -> None:
    """Take away what migrating wrote: the names of models and of rights."""
    for model in apps.get_models(include_auto_created=True):
        if model._meta.app_label in ("auth", "contenttypes"):
            model._base_manager.using(target).all()._raw_delete(target)


def _rows(model: Model, using: str) -> Iterator[list[Any]]:
    """All rows, a few at a time, fewer where they hold files."""
    has_files = any(isinstance(field, models.BinaryField) for field in model._meta.concrete_fields)
    size = AT_ONCE_WITH_FILES if has_files else AT_ONCE
    rows = model._base_manager.using(using).order_by("pk").iterator(chunk_size=size)
    while batch := list(islice(rows, size)):
        yield batch


def _copy(model: Model, source: str, target: str) -> None:
    try:
        for batch in _rows(model, source):
            model._base_manager.using(target).bulk_create(batch)
    except (DatabaseError, ValueError) as error:
        name = model._meta.label
        raise refuse("not taken", f"A row of {name} is not taken there: {error}") from error


def _number_on(every: Sequence[Model], target: str) -> None:
    """New rows are numbered on from the last; SQLite sees to it by itself."""
    connection = connections[target]
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), every):
            cursor.execute(statement)


def _equal_tables(model: Model, source: str, target: str) -> Table:
    here, there = (_table(model, using) for using in (source, target))
    if here != there:
        raise refuse(
            "not equal", f"{model._meta.label} did not arrive as it is here; nothing was kept."
        )
    return here


def _table(model: Model, using: str) -> Table:
    """Digests added up: databases put text in different orders."""
    count, total = 0, 0
    for batch in _rows(model, using):
        count += len(batch)
        total += sum(int(digest_of(row), 16) for row in batch)
    return Table(count, f"{total % 2**256:064x}")


def _equal_evidence(source: str, target: str) -> Verified:
    """Both walked, with equal heads. What was broken before is broken after, and no more."""
    here, there = verify_evidence(using=source), verify_evidence(using=target)
    if (here.heads, here.breaks) != (there.heads, there.breaks):
        raise refuse("not equal", "The chains of evidence differ; nothing was kept.")
    return there

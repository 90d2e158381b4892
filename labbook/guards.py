"""The database's own refusal to change or delete evidence: triggers on SQLite and PostgreSQL.

They are taken away before migrations and put back after them, since a rebuilt table loses its
triggers.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.apps import apps
from django.db import connections, models
from django.db.backends.base.base import BaseDatabaseWrapper

from .models.evidence import Evidence, Link

REFUSAL = "evidence is append-only: a correction is a new entry"
FUNCTION = f"""
CREATE OR REPLACE FUNCTION labbook_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION '{REFUSAL}'; END $$
"""


def guarded_models() -> list[type[Any]]:
    """Every model of evidence, and the links between its rows."""
    evidence = [model for model in apps.get_models() if issubclass(model, Evidence)]
    return [*evidence, Link]


def _events(model: type[Any]) -> Iterator[tuple[str, str, str]]:
    """Name, event and condition of each trigger of a table."""
    later = getattr(model, "LATER", ())
    fields = model._meta.concrete_fields
    table = model._meta.db_table
    closed = ", ".join(f'"{field.column}"' for field in fields if field.name not in later)
    yield f"{table}_keeps", f"UPDATE OF {closed}", ""
    yield f"{table}_stays", "DELETE", ""
    for field in fields:
        if field.name in later:
            yield (
                f"{table}_{field.column}_once",
                f'UPDATE OF "{field.column}"',
                _is_filled(field),
            )


def _is_filled(field: models.Field[Any, Any]) -> str:
    """The condition that the old row has a value in this column."""
    empty = "<> ''" if isinstance(field, models.CharField) else "IS NOT NULL"
    return f'OLD."{field.column}" {empty}'


def _statements(connection: BaseDatabaseWrapper, model: type[Any]) -> Iterator[str]:
    table = model._meta.db_table
    is_sqlite = connection.vendor == "sqlite"
    for name, event, condition in _events(model):
        when = f"WHEN ({condition})" if condition else ""
        if is_sqlite:
            yield (
                f'CREATE TRIGGER "{name}" BEFORE {event} ON "{table}" FOR EACH ROW {when} '
                f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
            )
        else:
            yield (
                f'CREATE TRIGGER "{name}" BEFORE {event} ON "{table}" FOR EACH ROW {when} '
                "EXECUTE FUNCTION labbook_refuse()"
            )
    if not is_sqlite:
        yield (
            f'CREATE TRIGGER "{table}_whole" BEFORE TRUNCATE ON "{table}" '
            "EXECUTE FUNCTION labbook_refuse()"
        )


def names_of(connection: BaseDatabaseWrapper, model: type[Any]) -> list[str]:
    names = [name for name, _, _ in _events(model)]
    return names if connection.vendor == "sqlite" else [*names, f"{model._meta.db_table}_whole"]


def remove_guards(using: str = "default") -> None:
    connection = connections[using]
    tables = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        for model in guarded_models():
            if model._meta.db_table not in tables:
                continue
            on = "" if connection.vendor == "sqlite" else f' ON "{model._meta.db_table}"'
            for name in names_of(connection, model):
                cursor.execute(f'DROP TRIGGER IF EXISTS "{name}"{on}')


def install_guards(using: str = "default") -> None:
    """Put every trigger in place, anew."""
    connection = connections[using]
    remove_guards(using)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(FUNCTION)
        for model in guarded_models():
            # A record on its way from an older version may not have every table yet.
            if _is_whole(connection, model):
                for statement in _statements(connection, model):
                    cursor.execute(statement)


def _is_whole(connection: BaseDatabaseWrapper, model: type[Any]) -> bool:
    """Whether the model's table is there with all its columns."""
    table = model._meta.db_table
    with connection.cursor() as cursor:
        if table not in connection.introspection.table_names(cursor):
            return False
        there = {c.name for c in connection.introspection.get_table_description(cursor, table)}
    return {field.column for field in model._meta.concrete_fields} <= there


def missing_guards(using: str = "default") -> list[str]:
    """The triggers that should be there and are not."""
    connection = connections[using]
    query = (
        "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        if connection.vendor == "sqlite"
        else "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D' "
        "AND pg_table_is_visible(tgrelid)"
    )
    with connection.cursor() as cursor:
        cursor.execute(query)
        there = {row[0] for row in cursor.fetchall()}
    return [
        name
        for model in guarded_models()
        for name in names_of(connection, model)
        if name not in there
    ]


@contextmanager
def without_guards(using: str = "default") -> Iterator[None]:
    """For migrations and for emptying a test database, and for nothing else."""
    remove_guards(using)
    try:
        yield
    finally:
        install_guards(using)

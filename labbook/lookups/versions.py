"""Which version of the record this is, and whether its database has followed."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version

from django.db import DEFAULT_DB_ALIAS, connections
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder


def record_version() -> str:
    try:
        return version("combustion-bench-record")
    except PackageNotFoundError:
        return "not installed"


def missing_migrations(using: str = DEFAULT_DB_ALIAS) -> list[str]:
    """The migrations this version has and the database has not."""
    loader = MigrationLoader(connections[using])
    return [
        f"{app}.{name}" for app, name in sorted(loader.disk_migrations.keys() - _applied(using))
    ]


def unknown_migrations(using: str = DEFAULT_DB_ALIAS) -> list[str]:
    """The record's migrations that the database has and this version does not know."""
    loader = MigrationLoader(None)
    unknown = sorted(_applied(using) - loader.disk_migrations.keys())
    return [f"{app}.{name}" for app, name in unknown if app == "labbook"]


def newest_migration(using: str = DEFAULT_DB_ALIAS) -> str:
    """“0007_marking_and_upkeep”; nothing for a database without tables."""
    return max((name for app, name in _applied(using) if app == "labbook"), default="")


def _applied(using: str) -> set[tuple[str, str]]:
    return set(MigrationRecorder(connections[using]).applied_migrations())

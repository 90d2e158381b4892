"""Making a backup: copied while the record is in use, opened and verified, then put in place."""

from __future__ import annotations

import os
import shutil
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from django.db import DEFAULT_DB_ALIAS, connection, connections

from ... import clock
from ...actions.terms import archives
from ...lookups.chain import Verified, verify_evidence
from ...lookups.machine import database_bytes
from ...lookups.versions import missing_migrations, newest_migration, record_version
from ...problems import refuse
from . import postgresql, sqlite
from .contents import ARCHIVES, COPY, Manifest, read_manifest, sum_of, write_backup
from .rotation import name_at

UNFINISHED = ".being-made-"
LEFT_BEHIND_S = 86_400.0


@dataclass(frozen=True)
class Backup:
    """A backup that was read back; ``found`` is what verifying the copy said."""

    file: Path
    manifest: Manifest
    found: Verified
    size: int
    sha256: str
    database_bytes: int


def make_backup(folder: Path) -> Backup:
    """A backup in a folder, under its name only when all of it was written and read again.

    A record that does not verify is kept all the same, since it may be all there is; its manifest
    says that it is not whole.
    """
    missing = missing_migrations()
    if missing:
        sentence = f"The database lacks {missing[0]}. Run “manage.py migrate” first."
        raise refuse("not migrated", sentence)
    made_at = clock.now()
    file = folder / name_at(made_at)
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        _clear_up(folder)
        with TemporaryDirectory(prefix=UNFINISHED, dir=folder) as room:
            written, found = _written(Path(room), made_at.isoformat(timespec="seconds"))
            manifest = read_manifest(written)
            written.replace(file)
        _to_the_disk(folder)
    except (OSError, sqlite3.Error) as error:
        said = getattr(error, "strerror", None) or error
        raise refuse("no room", f"{folder} could not be written: {said}.") from error
    size = file.stat().st_size
    return Backup(file, manifest, found, size, sum_of(file), database_bytes())


def _written(room: Path, made_at: str) -> tuple[Path, Verified]:
    vendor = connection.vendor
    copy = room / COPY[vendor]
    (sqlite.copy_to if vendor == "sqlite" else postgresql.dump_to)(copy)
    with _opened(copy) as opened:
        using = opened or DEFAULT_DB_ALIAS
        found, tables = verify_evidence(using=using), _rows(using)
        migration = newest_migration(using)
    files = {copy.name: copy} | {ARCHIVES + one.name: one for one in archives().glob("*.zip")}
    manifest = Manifest(
        made_at=made_at,
        version=record_version(),
        migration=migration,
        database=vendor,
        tried=opened is not None,
        whole=found.is_whole,
        books=found.books,
        links=found.links,
        heads=found.heads,
        tables=tables,
        files={name: sum_of(one) for name, one in files.items()},
    )
    written = room / "backup.zip"
    written.touch(mode=0o600)
    write_backup(written, manifest, files)
    _to_the_disk(written)
    return written, found


@contextmanager
def _opened(copy: Path) -> Iterator[str | None]:
    """An alias for the copy as a database; None where PostgreSQL gave no room to try it out."""
    with (sqlite.opened_copy if copy.name == COPY["sqlite"] else postgresql.tried_out)(copy) as one:
        yield one


def _rows(using: str) -> dict[str, int]:
    """How many rows each table has."""
    counts = {}
    with connections[using].cursor() as cursor:
        for table in sorted(connections[using].introspection.table_names(cursor)):
            cursor.execute(f"SELECT COUNT(*) FROM {connections[using].ops.quote_name(table)}")
            counts[table] = cursor.fetchone()[0]
    return counts


def _to_the_disk(path: Path) -> None:
    number = os.open(path, os.O_RDONLY)
    try:
        os.fsync(number)
    finally:
        os.close(number)


def _clear_up(folder: Path) -> None:
    """What a backup left behind that was ended in the middle, a day ago or more."""
    for one in folder.glob(f"{UNFINISHED}*"):
        if time.time() - one.stat().st_mtime > LEFT_BEHIND_S:
            shutil.rmtree(one, ignore_errors=True)

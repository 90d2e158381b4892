"""Restoring a backup: all of it is checked beside the record before anything takes its place."""

from __future__ import annotations

import shutil
import zipfile
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from django.conf import settings
from django.core.management import call_command
from django.db import DEFAULT_DB_ALIAS, connection

from ... import clock
from ...actions.terms import archives
from ...lookups.chain import Verified, digest_of_heads, verify_evidence
from ...lookups.versions import unknown_migrations
from ...problems import refuse
from ..databases import holds_records
from . import postgresql, sqlite
from .contents import ARCHIVES, Manifest, read_manifest
from .rotation import STAMP


@dataclass(frozen=True)
class Restored:
    """What was put in place; ``aside`` names what was there before, kept beside it."""

    manifest: Manifest
    found: Verified
    aside: str
    archives: int


def restore_backup(file: Path, *, instead: bool = False) -> Restored:
    """Put a backup in the record's place; one that holds something only with ``instead``."""
    manifest = read_manifest(file)
    if manifest.database != connection.vendor:
        raise refuse("other database", _other_database(manifest))
    held = holds_records(DEFAULT_DB_ALIAS)
    if held and not instead:
        raise refuse(
            "holds records",
            "This record is not empty, and nothing was changed. With --yes the backup takes its "
            "place, and what is here now is kept beside it.",
        )
    with (
        TemporaryDirectory(prefix=".restoring-", dir=settings.DATA_DIR) as room,
        zipfile.ZipFile(file) as archive,
    ):
        copy = Path(archive.extract(manifest.copy, room))
        put = _put_sqlite if manifest.database == "sqlite" else _put_postgresql
        found, aside = put(copy, manifest, held)
        kept = _put_archives(archive, manifest)
    return Restored(manifest, found, aside, kept)


def _put_sqlite(copy: Path, manifest: Manifest, held: bool) -> tuple[Verified, str]:
    with sqlite.opened_copy(copy) as alias:
        found = _made_ready(alias, manifest)
    file = sqlite.database_file()
    aside = file.with_name(f"{file.name}.before-{_stamp()}") if held else None
    sqlite.put_in_place(copy, aside)
    return found, str(aside or "")


def _put_postgresql(dump: Path, manifest: Manifest, held: bool) -> tuple[Verified, str]:
    """In one piece, or what was there comes back."""
    aside = postgresql.set_aside(_stamp())
    try:
        postgresql.restore_into("", dump)
        found = _made_ready(DEFAULT_DB_ALIAS, manifest)
    except BaseException:
        postgresql.bring_back(aside)
        raise
    if not held:
        postgresql.forget(aside)
    return found, f"the schema {aside}" if held else ""


def _stamp() -> str:
    return clock.now().strftime(STAMP)


def _made_ready(using: str, manifest: Manifest) -> Verified:
    """The same heads as when it was made; then this version's tables and guards."""
    unknown = unknown_migrations(using)
    if unknown:
        raise refuse(
            "newer",
            f"The backup was made by version {manifest.version}, which is newer: this version "
            f"does not know {unknown[-1]}. Install that version, then restore.",
        )
    if digest_of_heads(using) != manifest.heads:
        raise refuse("other heads", "The copy does not hold what its manifest says.")
    call_command("migrate", database=using, interactive=False, verbosity=0)
    found = verify_evidence(using=using)
    if manifest.whole and not found.is_whole:
        first = found.breaks[0]
        raise refuse("not whole", f"The copy does not verify. {first.where}: {first.sentence}")
    return found


def _put_archives(archive: zipfile.ZipFile, manifest: Manifest) -> int:
    """The archives of closed terms, by their plain names and nowhere else."""
    names = [name for name in manifest.files if name.startswith(ARCHIVES)]
    for name in names:
        with archive.open(name) as content, (archives() / Path(name).name).open("wb") as file:
            shutil.copyfileobj(content, file)
    return len(names)


def _other_database(manifest: Manifest) -> str:
    words = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}
    theirs = words[manifest.database]
    return (
        f"The backup is of a record in {theirs}; this one is in {words[connection.vendor]}. "
        f"Restore it into an install with {theirs}, then take it over with “manage.py move”."
    )

"""SQLite's own copy of a database in use, and putting a copy in its place."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from django.db import DEFAULT_DB_ALIAS, connections

from ...problems import refuse
from ...settings import sqlite_in
from ..databases import opened


def database_file() -> Path:
    return Path(connections[DEFAULT_DB_ALIAS].settings_dict["NAME"])


def copy_to(file: Path) -> None:
    """Copy the record as it is at one moment, while it is read and written.

    In one step: a copy made in several begins again whenever somebody writes in between.
    """
    with closing(sqlite3.connect(database_file())) as live, closing(sqlite3.connect(file)) as copy:
        live.backup(copy)
        # One file that needs no other beside it.
        copy.execute("PRAGMA journal_mode=DELETE")


@contextmanager
def opened_copy(file: Path) -> Iterator[str]:
    """An alias for a copy that was found sound."""
    with closing(sqlite3.connect(file)) as copy:
        try:
            said = [row[0] for row in copy.execute("PRAGMA integrity_check(5)")]
            astray = copy.execute("PRAGMA foreign_key_check").fetchone()
        except sqlite3.DatabaseError as error:
            raise refuse("damaged", f"The copy is no sound database: {error}.") from error
    if said != ["ok"]:
        raise refuse("damaged", f"The copy is no sound database: {'; '.join(said)}.")
    if astray:
        raise refuse("damaged", f"In the copy a row of {astray[0]} leads nowhere.")
    with opened(sqlite_in(file)) as alias:
        yield alias


def put_in_place(copy: Path, aside: Path | None) -> None:
    """Put a copy where the record's database is; that one is kept as ``aside`` or goes."""
    file = database_file()
    connections[DEFAULT_DB_ALIAS].close()
    if file.exists():
        _refuse_while_open(file)
        if aside:
            file.rename(aside)
    copy.replace(file)


def _refuse_while_open(file: Path) -> None:
    """Leaving WAL needs the database for oneself, and leaves all of it in the one file."""
    with closing(sqlite3.connect(file, timeout=2)) as live:
        try:
            mode: Any = live.execute("PRAGMA journal_mode=DELETE").fetchone()[0]
        except sqlite3.OperationalError:
            mode = ""
    if mode != "delete":
        raise refuse("in use", f"{file} is open in another program. Stop the server first.")

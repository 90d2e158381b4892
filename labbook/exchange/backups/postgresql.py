"""PostgreSQL's own dump of a database in use, trying it out, and restoring it."""

from __future__ import annotations

import os
import secrets
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import psycopg
from django.db import DEFAULT_DB_ALIAS, connections
from psycopg import sql
from psycopg.conninfo import make_conninfo

from ...problems import refuse
from ..databases import opened

BEFORE = "before_"


def dump_to(file: Path) -> None:
    _run("pg_dump", "--format=custom", "--no-owner", "--no-privileges", "--no-password",
         f"--exclude-schema={BEFORE}*", f"--file={file}", f"--dbname={_address()}")  # fmt: skip


@contextmanager
def tried_out(dump: Path) -> Iterator[str | None]:
    """The dump restored into a database made for it and dropped again.

    None where the account may not make one: then the dump's list is read, and no more.
    """
    _run("pg_restore", "--list", str(dump))
    name = f"labbook_trial_{secrets.token_hex(4)}"
    try:
        _by_itself(sql.SQL("CREATE DATABASE {} TEMPLATE template0").format(sql.Identifier(name)))
    except psycopg.errors.InsufficientPrivilege:
        yield None
        return
    try:
        restore_into(name, dump)
        with opened({**_settings(), "NAME": name, "CONN_MAX_AGE": 0}) as alias:
            yield alias
    finally:
        _by_itself(sql.SQL("DROP DATABASE {}").format(sql.Identifier(name)))


def restore_into(name: str, dump: Path) -> None:
    """All of the dump, or nothing of it."""
    _run("pg_restore", "--exit-on-error", "--single-transaction", "--no-owner", "--no-privileges",
         "--no-password", f"--dbname={_address(name)}", str(dump))  # fmt: skip


def set_aside(stamp: str) -> str:
    """Keep what is there under another name of its schema, and leave an empty one."""
    aside = f"{BEFORE}{stamp.lower()}"
    _in_one(
        sql.SQL("ALTER SCHEMA public RENAME TO {}").format(sql.Identifier(aside)),
        sql.SQL("CREATE SCHEMA public"),
    )
    return aside


def forget(aside: str) -> None:
    _in_one(sql.SQL("DROP SCHEMA {} CASCADE").format(sql.Identifier(aside)))


def bring_back(aside: str) -> None:
    _in_one(
        sql.SQL("DROP SCHEMA public CASCADE"),
        sql.SQL("ALTER SCHEMA {} RENAME TO public").format(sql.Identifier(aside)),
    )


def _in_one(*statements: sql.SQL | sql.Composed) -> None:
    # A connection that was kept would go on with what it knows of the old tables.
    connections[DEFAULT_DB_ALIAS].close()
    with psycopg.connect(_address(), password=_password()) as connection:
        connection.execute("SET lock_timeout = '10s'")
        for statement in statements:
            connection.execute(statement)


def _by_itself(statement: sql.SQL | sql.Composed) -> None:
    """A statement that PostgreSQL takes in no transaction."""
    with psycopg.connect(_address(), password=_password(), autocommit=True) as connection:
        connection.execute(statement)


def _settings() -> dict[str, Any]:
    return connections[DEFAULT_DB_ALIAS].settings_dict


def _password() -> str | None:
    return str(_settings()["PASSWORD"]) or None


def _address(name: str = "") -> str:
    """Where the database is, without the password: others can read a command's arguments."""
    given = _settings()
    named = {"user": given["USER"], "host": given["HOST"], "port": given["PORT"]}
    options = {key: value for key, value in given["OPTIONS"].items() if key.startswith("ssl")}
    filled = {key: str(value) for key, value in (named | options).items() if value}
    return make_conninfo(dbname=name or given["NAME"], **filled)


def _run(command: str, *arguments: str) -> None:
    environment = {**os.environ, "LC_ALL": "C"}
    if password := _password():
        environment["PGPASSWORD"] = password
    try:
        done = subprocess.run(
            [command, *arguments], env=environment, capture_output=True, text=True, check=False
        )
    except FileNotFoundError as error:
        raise refuse(
            "no program",
            f"{command} is not on this machine. Install PostgreSQL's client programs "
            "(on Debian: apt-get install postgresql-client), of the server's version or newer.",
        ) from error
    if done.returncode:
        said = " ".join(done.stderr.split()) or f"exit code {done.returncode}"
        advice = (
            " Install the client programs of the server's version or newer."
            if "version mismatch" in said
            else ""
        )
        raise refuse("program failed", f"{said[:600]}.{advice}")

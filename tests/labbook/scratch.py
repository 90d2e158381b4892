"""Databases beside the test's own, made for one test and taken away after it."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager

import psycopg
import pytest
from psycopg import sql

SERVER = os.environ.get("LABBOOK_DATABASE_URL") or "postgres://postgres@127.0.0.1:5432/postgres"


@contextmanager
def postgresql_database() -> Iterator[str]:
    """The address of an empty PostgreSQL database; the test is left out where no server answers."""
    server, name = SERVER.rpartition("/")[0], f"labbook_scratch_{secrets.token_hex(4)}"
    try:
        connection = psycopg.connect(f"{server}/postgres", autocommit=True, connect_timeout=30)
    except psycopg.OperationalError as error:
        pytest.skip(f"no PostgreSQL answers at {server.rpartition('@')[2]}: {error}")
    with connection:
        connection.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
    try:
        yield f"{server}/{name}"
    finally:
        with psycopg.connect(f"{server}/postgres", autocommit=True) as connection:
            drop = sql.SQL("DROP DATABASE {} WITH (FORCE)")
            connection.execute(drop.format(sql.Identifier(name)))

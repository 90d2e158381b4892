"""An empty record for a script: in a folder that goes away; where the command line says
``--database postgres://…``, in a database made for it on that server and dropped at the end; with
``--database private``, on a PostgreSQL server of its own.

Import before anything of labbook, which reads where its record is when it is imported.
"""

import argparse
import atexit
import os

import psycopg
from psycopg import sql

from .cluster import Cluster

_parser = argparse.ArgumentParser(add_help=False)
_parser.add_argument("--database", default="", metavar="URL")
server: str = _parser.parse_known_args()[0].database
cluster = Cluster() if server == "private" else None
name = f"labbook_load_{os.getpid()}" if server else ""


def on_server(statement: sql.Composed) -> None:
    """One statement beside the scratch database."""
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(statement)


def end_connections() -> None:
    """End every connection to the scratch database, as an administrator may."""
    ending = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = {}"
    on_server(sql.SQL(ending).format(sql.Literal(name)))


def _drop() -> None:
    from django.db import connections

    connections.close_all()
    on_server(sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(sql.Identifier(name)))


if cluster is not None:
    cluster.start()
    atexit.register(cluster.close)
    server = cluster.address
if server:
    on_server(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
    os.environ["LABBOOK_DATABASE_URL"] = f"{server.rsplit('/', 1)[0]}/{name}"
    atexit.register(_drop)
else:
    os.environ.pop("LABBOOK_DATABASE_URL", None)

from tests.speed.temporary_record import folder  # noqa: E402  reads the address set above

__all__ = ["cluster", "end_connections", "folder", "name", "server"]

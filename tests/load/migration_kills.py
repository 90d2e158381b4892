"""Kill ``manage.py migrate`` at random moments; the next one must finish what was begun.

    .venv/bin/python -m tests.load.migration_kills [--kills 10] [--seed 1]

From an empty SQLite file. After each kill ``migrate`` runs to its end: no migration may be left,
every guard must be there, the evidence be whole and the tables the same as those of a migration
nobody interrupted. Exit code 1 when that is not so.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def manage(folder: Path, *words: str) -> subprocess.Popen[bytes]:
    environment = {**os.environ, "LABBOOK_DATA": str(folder), "LABBOOK_DATABASE_URL": ""}
    command = [sys.executable, str(ROOT / "manage.py"), *words]
    return subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL)


def tables_of(folder: Path) -> list[tuple[str, str]]:
    """Tables, indexes and triggers by name, with the statements that made them."""
    with sqlite3.connect(folder / "labbook.sqlite3") as connection:
        found: list[tuple[str, str]] = connection.execute(
            "SELECT name, coalesce(sql, '') FROM sqlite_master WHERE name NOT LIKE 'sqlite_%' "
            "ORDER BY name"
        ).fetchall()
        return found


def applied(folder: Path) -> int:
    """How many migrations are written down as done; 0 before there is a table for them."""
    with sqlite3.connect(folder / "labbook.sqlite3") as connection:
        try:
            return int(connection.execute("SELECT count(*) FROM django_migrations").fetchone()[0])
        except sqlite3.OperationalError:
            return 0


def killed_after(folder: Path, seconds: float) -> bool:
    """Whether it was killed, and not done already."""
    migrating = manage(folder, "migrate", "--verbosity", "0")
    time.sleep(seconds)
    migrating.send_signal(signal.SIGKILL)
    return migrating.wait(30) == -signal.SIGKILL


def what_is_wrong(folder: Path, whole: list[tuple[str, str]]) -> str:
    """After one more migration, run to its end."""
    for words in (["migrate", "--verbosity", "0"], ["migrate", "--check"], ["verify"]):
        if manage(folder, *words).wait(120):
            return f"manage.py {' '.join(words)} failed"
    return "" if tables_of(folder) == whole else "the tables are not those of a whole migration"


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=10)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    chosen, wrong = random.Random(asked.seed), 0
    with tempfile.TemporaryDirectory(prefix="labbook-") as folder:
        whole = Path(folder, "whole")
        began = time.monotonic()
        manage(whole, "migrate", "--verbosity", "0").wait(120)
        takes_s, tables = time.monotonic() - began, tables_of(whole)
        for number in range(asked.kills):
            data = Path(folder, str(number))
            after_s = chosen.uniform(0.3, 1) * takes_s
            killed, done = killed_after(data, after_s), applied(data)
            said = what_is_wrong(data, tables)
            wrong += bool(said)
            state = f"killed with {done} migrations done" if killed else "done before the kill"
            print(f"after {after_s:5.2f} s: {state}; {said or 'finished by the next'}", flush=True)
    print(f"{asked.kills} migrations, {wrong} not finished by the next")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())

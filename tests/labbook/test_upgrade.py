"""A laboratory kept by the very first version goes on under this one.

`fixtures/upgrade/first_schema.sql.gz` was written by that version: three standardization runs and
their approval, an unknown that was signed, one set aside, one still open with typed readings.
"""

from __future__ import annotations

import gzip
import json
import os
import sqlite3
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]
FIRST = ROOT / "fixtures/upgrade/first_schema.sql.gz"
VALUES = {
    "runs": "select r.id, r.kind, r.state, s.rise_k, s.c_j_per_k, s.du_j_per_g from labbook_run r "
    "left join labbook_result s on s.id = r.result_id order by r.id",
    "approved": "select id, state, approved_c_j_per_k from labbook_standardization",
    "typed": "select run_id, field, text, at from labbook_sheetentry order by id",
    "readings": "select run_id, first_number, count, hex(times_s), hex(temperatures_c), at "
    "from labbook_readingblock order by id",
    "files": "select sha256, hex(content) from labbook_loggerfile order by id",
    "decisions": "select run_id, deed, reason, at from labbook_decision order by id",
}
# Run in a process of its own, since one process knows one database.
GOES_ON = """
import django; django.setup()
from django.test import Client
from labbook.actions.sheets import enter_figure
from labbook.lookups.chain import verify_evidence
from labbook.models import Account, Run
pages = ("runs/1/", "runs/4/result/", "runs/4/working/", "runs/5/readings/", "runs/6/readings/2/",
         "standardizations/1/")
said = {}
for name in ("m1", "ta", "coordinator"):
    client = Client(headers={"host": "localhost"})
    client.force_login(Account.objects.get(username=name))
    said[name] = [client.get("/" + page).status_code for page in pages]
enter_figure(Run.objects.get(pk=6), "room_c", "21.9", by=Account.objects.get(username="m1"))
found = verify_evidence()
import json; print(json.dumps({"pages": said, "whole": found.is_whole, "rows": found.links}))
"""


def asked(file: Path) -> dict[str, list[Any]]:
    with sqlite3.connect(file) as connection:
        return {name: connection.execute(query).fetchall() for name, query in VALUES.items()}


def run(folder: Path, *arguments: str) -> str:
    environment = {key: value for key, value in os.environ.items() if "DATABASE_URL" not in key}
    environment |= {"LABBOOK_DATA": str(folder), "DJANGO_SETTINGS_MODULE": "labbook.settings"}
    done = subprocess.run(
        [sys.executable, *arguments], cwd=ROOT, env=environment, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture
def first_version(tmp_path: Path) -> Path:
    with sqlite3.connect(tmp_path / "labbook.sqlite3") as connection:
        connection.executescript(gzip.decompress(FIRST.read_bytes()).decode())
    return tmp_path


def test_what_the_first_version_kept_is_there_unchanged_and_goes_on(first_version: Path) -> None:
    database = first_version / "labbook.sqlite3"
    before = asked(database)
    run(first_version, "manage.py", "migrate", "-v0")
    assert asked(database) == before
    verified = json.loads(run(first_version, "manage.py", "verify", "--json"))
    assert verified["whole"]
    kept = sum(len(before[name]) for name in ("typed", "readings", "files", "decisions"))
    assert verified["rows"] > kept, "rows of before the chains are linked too"
    said = json.loads(run(first_version, "-c", GOES_ON))
    assert said["pages"] == {name: [200] * 6 for name in ("m1", "ta", "coordinator")}
    assert said["whole"] and said["rows"] > verified["rows"]
    run(first_version, "manage.py", "makemigrations", "--check", "--dry-run")

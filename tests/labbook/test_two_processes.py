"""Two web processes behind one address: whatever one was told, the other knows.

Each request goes to the other process than the one before, as a proxy may send it.
"""

from __future__ import annotations

import json
import os
import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from http.cookiejar import CookieJar
from itertools import cycle
from pathlib import Path
from urllib.error import HTTPError
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, OpenerDirector, Request, build_opener

import pytest
from django.db import connection

from labbook.exchange.backups import sqlite
from labbook.models import Account

from .conftest import Laboratory, set_up_laboratory

ROOT = Path(__file__).parents[2]
PASSWORD = "a long phrase"
PATIENCE_S = 120
HTMX = {"HX-Request": "true"}


@dataclass
class PC:
    """A browser whose requests go to the two processes in turn."""

    ports: Iterator[int]
    opener: OpenerDirector = field(
        default_factory=lambda: build_opener(HTTPCookieProcessor(CookieJar()))
    )
    page: str = ""
    path: str = ""

    def ask(self, path: str, sent: dict[str, str] | None = None, **headers: str) -> tuple[int, str]:
        """The answer; a page that comes is the one whose forms are sent next."""
        data = None
        if sent is not None:
            token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', self.page)
            assert token, self.path
            data = urlencode(sent | {"csrfmiddlewaretoken": token[1]}).encode()
        url = f"http://127.0.0.1:{next(self.ports)}{path}"
        try:
            with self.opener.open(Request(url, data, headers), timeout=PATIENCE_S) as answer:
                status, text = answer.status, answer.read().decode()
                self.path = answer.url.partition("/")[2].partition("/")[2].partition("/")[2]
        except HTTPError as refused:
            status, text = refused.code, refused.read().decode()
        if "csrfmiddlewaretoken" in text:
            self.page = text
        return status, text

    def sign_in(self, who: Account, path: str = "/sign-in/") -> None:
        self.ask(path)
        assert self.ask(path, {"username": who.username, "password": PASSWORD})[0] == 200


@pytest.fixture
def lab(transactional_db: None) -> Laboratory:
    found = set_up_laboratory()
    for account in Account.objects.all():
        account.set_password(PASSWORD)
        account.save()
    return found


@pytest.fixture
def ports(lab: Laboratory, tmp_path: Path) -> Iterator[list[int]]:
    """Two processes on the same record, each with a port of its own."""
    environment = os.environ | {"LABBOOK_DATA": str(tmp_path)}
    if connection.vendor == "sqlite":
        sqlite.copy_to(tmp_path / "labbook.sqlite3")
    else:
        server = os.environ["LABBOOK_DATABASE_URL"].rpartition("/")[0]
        name = connection.settings_dict["NAME"]
        environment["LABBOOK_DATABASE_URL"] = f"{server}/{name}"
    found = [free_port(), free_port()]
    command = [sys.executable, "-m", "gunicorn", "--workers", "1", "--timeout", str(PATIENCE_S)]
    processes = [
        subprocess.Popen(
            [*command, "--bind", f"127.0.0.1:{port}", "labbook.wsgi"], cwd=ROOT, env=environment,
            stderr=subprocess.DEVNULL,
        )
        for port in found
    ]  # fmt: skip
    try:
        for port in found:
            until_it_answers(port)
        yield found
    finally:
        for process in processes:
            process.terminate()
        for process in processes:
            process.wait(timeout=PATIENCE_S)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def until_it_answers(port: int) -> None:
    ends = time.monotonic() + PATIENCE_S
    opener, last = build_opener(), "nothing"
    while time.monotonic() < ends:
        try:
            assert opener.open(f"http://127.0.0.1:{port}/sign-in/", timeout=5).status == 200
            return
        except HTTPError as refused:
            last = refused.read().decode()
        except OSError as error:
            last = str(error)
        time.sleep(0.2)
    pytest.fail(f"port {port} gave no page within {PATIENCE_S} s; it said: {last}")


def test_what_one_process_was_told_the_other_knows(lab: Laboratory, ports: list[int]) -> None:
    turns = cycle(ports)
    group, assistant = PC(turns), PC(turns)
    group.sign_in(lab.group)
    assistant.sign_in(lab.assistant)
    section = f"/sections/{lab.group.group.section_id}/"
    run = an_open_run(group, lab)
    figures_are_seen(group, run)
    readings_are_taken_once(group, run)
    a_poll_tells_what_is_new(group, assistant, run, section)
    two_groups_share_a_pc(group, lab, run)
    signing_out_holds_everywhere(group)


def an_open_run(group: PC, lab: Laboratory) -> str:
    group.ask("/afternoon/")
    status, _ = group.ask("/runs/open/", {"bench": lab.bench.code, "kind": "standardization"})
    assert status == 200
    found = re.search(r"/runs/\d+/", f"/{group.path}")
    assert found, group.path
    return found[0]


def figures_are_seen(group: PC, run: str) -> None:
    group.ask(run)
    assert group.ask(f"{run}figures/room_c/", {"room_c": "21.5"})[0] == 200
    for _ in range(2):
        assert 'value="21.5"' in group.ask(run)[1]


def readings_are_taken_once(group: PC, run: str) -> None:
    """The countdown goes on, and what was kept in the browser and sent again is one reading."""
    group.ask(f"{run}readings/")
    assert group.ask(f"{run}readings/clock/", {})[0] == 200
    sent = {"time": "15", "temperature": "23.169", "page_key": "a" * 32}
    answers = [
        json.loads(group.ask(f"{run}readings/typed/", sent, Accept="application/json")[1])
        for _ in range(3)
    ]
    assert [answer["number"] for answer in answers] == [1, 1, 1]
    zeros = {answer["zero"] for answer in answers}
    assert len(zeros) == 1 and None not in zeros


def a_poll_tells_what_is_new(group: PC, assistant: PC, run: str, section: str) -> None:
    for figure in ("22.1", "22.2"):
        seen = nothing_new(assistant, section)
        group.ask(run)
        assert group.ask(f"{run}figures/room_c/", {"room_c": figure})[0] == 200
        parts = [assistant.ask(f"{section}?seen={seen}", **HTMX) for _ in range(2)]
        assert [status for status, _ in parts] == [200, 200]


def nothing_new(assistant: PC, section: str) -> str:
    """What was seen last, of which both processes say that it still stands.

    It holds the minute too, so that elapsed times grow: asked again when one just went by.
    """
    for _ in range(3):
        seen = re.search(r'seen=([^"]+)"', assistant.ask(section)[1])
        assert seen
        polled = [assistant.ask(f"{section}?seen={seen[1]}", **HTMX)[0] for _ in range(2)]
        if polled == [204, 204]:
            return seen[1]
    pytest.fail("the page never stood still")


def two_groups_share_a_pc(group: PC, lab: Laboratory, run: str) -> None:
    group.sign_in(lab.stranger, "/sign-in/another/")
    assert {group.ask(run)[0] for _ in range(2)} == {404}
    group.ask("/afternoon/")
    assert group.ask("/sign-in/switch/", {"account": str(lab.group.pk)})[0] == 200
    assert {group.ask(run)[0] for _ in range(2)} == {200}


def signing_out_holds_everywhere(group: PC) -> None:
    group.ask("/afternoon/")
    group.ask("/sign-out/", {})
    for _ in range(2):
        group.ask("/afternoon/")
        assert group.path.startswith("sign-in/")

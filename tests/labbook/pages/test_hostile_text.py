"""Text meant for a spreadsheet to run stands inert in every table that leaves; limits hold."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from labbook.actions.around_firing import record_happening
from labbook.actions.bench_log import log_event, report_near_miss
from labbook.actions.devices import make_device
from labbook.actions.handing_in import hand_in
from labbook.actions.sheets import enter_figure
from labbook.addresses import ADDRESSES
from labbook.models import (
    Account,
    AidLot,
    BenchEvent,
    FuseLot,
    Group,
    Part,
    Person,
    Sample,
    Section,
    StandardLot,
    Substance,
    Term,
    TitrantLot,
)
from labbook.typesetting.cells import NUMBER, inert

from ..conftest import Laboratory, member
from ..leaks import body_of
from .conftest import Afternoon, whole_afternoon
from .test_reach import SEEN, address

# OWASP, “CSV Injection”: what starts a formula, and how one reaches out.
HOSTILE = (
    "=1+1", "+1+1", "-1+1", "@SUM(1)", "\t=1+1", "\r=1+1", '=HYPERLINK("http://x.example","y")',
    "=cmd|' /C calc'!A0", "＝1+1",
)  # fmt: skip
STARTS = re.compile("[=+@\t\r\n＝＋＠-]")
TEXTS = {
    Account: ["name"],
    AidLot: ["source"],
    FuseLot: ["source"],
    Group: ["code"],
    Part: ["serial"],
    Person: ["name", "student_number"],
    Sample: ["lot"],
    Section: ["name"],
    StandardLot: ["certificate"],
    Substance: ["citation"],
    Term: ["name"],
    TitrantLot: ["code"],
}


@pytest.fixture
def hostile(laboratory: Laboratory, settings: Any, tmp_path: Path) -> Afternoon:
    """An afternoon in which everybody typed formulas wherever words are taken."""
    settings.DATA_DIR = tmp_path
    for text in HOSTILE:
        member(laboratory, f"{text} in a name")
    afternoon = whole_afternoon(laboratory)
    run = afternoon.run
    for text in HOSTILE:
        enter_figure(run, "remarks", text, by=laboratory.group, reason=text)
        record_happening(run, "other", text, by=laboratory.group)
        report_near_miss(laboratory.bench, text, by=laboratory.group)
    log_event(
        laboratory.bench, BenchEvent.Kind.REMARK, at=run.opened_at, words="=1+1",
        by=laboratory.assistant,
    )  # fmt: skip
    for model, names in TEXTS.items():
        for number, row in enumerate(model.objects.order_by("pk")):
            texts = {name: f"{HOSTILE[number % len(HOSTILE)]} {row.pk}"[:20] for name in names}
            model.objects.filter(pk=row.pk).update(**texts)
    hand_in(laboratory.group.group, "=1+1", by=laboratory.group)
    return afternoon


def tables_in(name: str, content: bytes) -> Iterator[tuple[str, bytes]]:
    """Every table in an answer, also within archives."""
    if content.startswith(b"PK\x03\x04") and not name.endswith(".xlsx"):
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            for member_name in archive.namelist():
                yield from tables_in(member_name, archive.read(member_name))
    elif name.endswith((".csv", ".xlsx")):
        yield name, content


def would_run(name: str, content: bytes) -> list[str]:
    """Cells a spreadsheet would take for a formula that is not one of ours."""
    if name.endswith(".xlsx"):
        book = openpyxl.load_workbook(io.BytesIO(content))
        cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
        formulas = [str(cell.value) for cell in cells if cell.data_type == "f"]
        return [text for text in formulas if re.search(r"HYPERLINK|cmd|^=1\+1|@|http", text)]
    rows = csv.reader(io.StringIO(content.decode("utf-8-sig"), newline=""))
    cells = [cell for row in rows for cell in row]
    return [cell for cell in cells if STARTS.match(cell) and not NUMBER.fullmatch(cell)]


def name_of(response: Any) -> str:
    found = re.search(r'filename="([^"]+)"', response.headers.get("Content-Disposition", ""))
    return found[1] if found else ""


@pytest.mark.parametrize("persona", ["group", "coordinator"])
def test_no_table_that_leaves_runs_in_a_spreadsheet(hostile: Afternoon, persona: str) -> None:
    client, running, seen = hostile.client(persona), {}, set()
    for name in SEEN:
        path, row = address(name, hostile), ADDRESSES[name]
        method = "GET" if row.reads else "POST"
        response = client.generic(method, path) if name.startswith("term_") or row.reads else None
        if response is None or response.status_code != 200:
            continue
        for table, content in tables_in(name_of(response), body_of(response)):
            seen.add(table.rpartition("/")[2])
            if cells := would_run(table, content):
                running[path, table] = cells
    assert running == {}
    assert len(seen) >= 5 and any(name.endswith(".xlsx") for name in seen), seen


def test_the_search_for_what_would_run_finds_it() -> None:
    assert would_run("a.csv", b"a,b\n=1+1,-5.2\n") == ["=1+1"]
    assert all(str(inert(text)).startswith("'") for text in HOSTILE)
    for number in ("-5156.15", "+3", "-1,5", "-1e-05"):
        assert inert(number) == number


def refused(client: Client, path: str, sent: dict[str, Any], **more: Any) -> tuple[int, str]:
    response = client.post(path, sent, **more)
    return response.status_code, response.content.decode()


def test_a_file_that_is_too_large_is_refused_with_a_sentence(afternoon: Afternoon) -> None:
    file = SimpleUploadedFile("run.csv", b"1,2\n" * (5 * 2**18 + 1))
    path = address("hand_in_file", afternoon)
    status, html = refused(afternoon.client("group"), path, {"file": file})
    assert status == 409 and "at most 5 MB" in html
    roster = SimpleUploadedFile("roster.csv", b"a;b\n" * (2**19 + 1))
    path = address("roster", afternoon)
    status, html = refused(afternoon.client("coordinator"), path, {"file": roster})
    assert status == 422 and "At most 2 MB" in html


def test_a_form_of_too_many_fields_or_too_long_is_refused_with_a_sentence(
    afternoon: Afternoon,
) -> None:
    client = afternoon.client("group")
    path = address("note_presence", afternoon)
    for sent in ({"shown": ["1"] * 1001}, {"shown": "1" * (6 * 2**20 + 1)}):
        status, html = refused(client, path, sent)
        assert status == 400 and "<h1>" in html


@pytest.mark.parametrize("body", ["[" * 100_000, '{"a":' * 100_000, "1" * 5000, '"\\ud800"'])
def test_json_that_is_too_deep_is_refused_with_a_sentence(afternoon: Afternoon, body: str) -> None:
    _, token = make_device(afternoon.lab.bench, "logger", by=afternoon.lab.coordinator)
    bearer = {"Authorization": f"Bearer {token}"}
    response = Client(headers=bearer).post("/api/v1/readings", body, "application/json")
    assert response.status_code == 422 and "JSON" in response.json()["why"]


@pytest.mark.parametrize(
    "name",
    ["../../../etc/passwd", "..%2f..%2fetc/passwd", "/etc/passwd", "run-1/../../secret-key", "\\x"],
)
def test_a_package_hands_out_its_own_files_only(afternoon: Afternoon, name: str) -> None:
    group = afternoon.lab.group.group_id
    client = afternoon.client("coordinator")
    response = client.get(f"/groups/{group}/handing-in/1/files/{name}")
    assert response.status_code == 404


def test_names_in_an_archive_stay_within_it(hostile: Afternoon) -> None:
    response = hostile.client("coordinator").get(address("hand_in_package", hostile))
    with zipfile.ZipFile(io.BytesIO(body_of(response))) as archive:
        for name in archive.namelist():
            parts = Path(name).parts
            assert not name.startswith("/") and ".." not in parts and "\\" not in name

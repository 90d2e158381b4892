"""Logger files handed in: kept whatever they hold, understood or refused in words."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from labbook.lookups.readings import readings_of
from labbook.models import LoggerFile, Run

from ..conftest import Laboratory, completed, curve, hand_in
from .conftest import HTMX

UPLOADS = Path(__file__).parents[3] / "fixtures/uploads"
COMMAS = curve().replace(b",", b";").replace(b".", b",")
BAD: dict[str, tuple[bytes, str]] = {
    "empty": (b"", "empty"),
    "binary": (bytes(range(256)) * 40, ""),
    "one column": (b"\n".join(b"%d.5" % n for n in range(20)) + b"\n", ""),
    "text in number columns": (b"time_s,temperature_c\n" + b"early,warm\nlate,hot\n" * 9, ""),
    "a header and nothing else": (b"time_s,temperature_c\n", ""),
    "a picture": (b"\x89PNG\r\n\x1a\n" + bytes(2000), ""),
}
GOOD: dict[str, tuple[bytes, int]] = {
    "as the logger wrote it": (curve(), 81),
    "commas for points": (COMMAS, 81),
    "UTF-16": (curve().decode().encode("utf-16"), 81),
    "cut in its last line": (curve()[:-4], 80),
}


def handed_in(client: Client, run: Run, content: bytes, name: str = "run.csv") -> str:
    file = SimpleUploadedFile(name, content)
    response = client.post(f"/runs/{run.pk}/files/", {"file": file})
    assert response.status_code == 302, response.content.decode()
    return response["Location"]


@pytest.mark.parametrize(("content", "said"), BAD.values(), ids=BAD)
def test_a_bad_file_is_kept_and_refused_in_words(
    group: Client, open_run: Run, content: bytes, said: str
) -> None:
    path = handed_in(group, open_run, content)
    response = group.get(path)
    html = response.content.decode()
    assert response.status_code == 200
    assert 'class="error" role="alert"' in html and said in html.lower()
    assert "Use these" not in html
    assert group.post(path, {"use": "yes"}).status_code in (200, 409)
    assert bytes(LoggerFile.objects.get().content) == content
    assert not open_run.blocks.exists()
    assert "run.csv" in group.get(f"/runs/{open_run.pk}/readings/").content.decode()


def test_what_a_file_leaves_open_is_asked_and_answered(group: Client, open_run: Run) -> None:
    path = handed_in(group, open_run, (UPLOADS / "two_temperatures.csv").read_bytes())
    html = group.get(path).content.decode()
    option = re.search(r'<input type="radio" name="(\w+)" value="([^"]*)"', html)
    assert option and "Use these" not in html
    assert group.post(path, {"use": "yes"}).status_code == 409
    assert not open_run.blocks.exists()
    assert "Use these" in group.post(path, {option[1]: option[2]}).content.decode()


@pytest.mark.parametrize(("content", "count"), GOOD.values(), ids=GOOD)
def test_a_good_file_gives_its_readings_on_request(
    group: Client, open_run: Run, content: bytes, count: int
) -> None:
    path = handed_in(group, open_run, content)
    html = group.get(path).content.decode()
    assert f"Use these {count} readings" in html
    assert not open_run.blocks.exists()
    assert group.post(path, {"use": "yes"}).status_code == 302
    assert readings_of(open_run).kept_count == count
    assert readings_of(open_run).temperatures_c[0] == 23.0


def test_every_file_of_the_collection_is_used_asked_about_or_refused(
    group: Client, open_run: Run
) -> None:
    files = [file for file in UPLOADS.iterdir() if file.suffix != ".json"]
    assert files
    for file in files:
        path = handed_in(group, open_run, file.read_bytes(), file.name)
        if group.post(path, {"use": "yes"}).status_code != 302:
            html = group.get(path).content.decode()
            assert "<fieldset" in html or 'role="alert"' in html, file.name


@pytest.mark.parametrize(
    "name",
    [
        "delimiter",
        "decimal",
        "time_kind",
        "day_first",
        "unit",
        "encoding",
        "parts",
        "time_column",
        "temperature_column",
    ],
)
def test_a_choice_that_is_not_offered_is_answered_in_words(
    group: Client, open_run: Run, name: str
) -> None:
    path = handed_in(group, open_run, curve())
    for value in ("nonsense", "99", "-1", "9" * 5000, "\0", "²"):
        response = group.get(path, {name: value})
        assert response.status_code == 200, value


def test_more_than_five_megabytes_are_refused_with_the_size(group: Client, open_run: Run) -> None:
    big = SimpleUploadedFile("big.csv", b"0,20.0\n" * (6 * 2**20 // 7))
    response = group.post(f"/runs/{open_run.pk}/files/", {"file": big})
    assert response.status_code == 409
    assert "6.0 MB; at most 5 MB are taken" in response.content.decode()


@pytest.mark.parametrize("sent", [{}, {"file": "not a file"}])
def test_no_file_is_said_so(group: Client, open_run: Run, sent: dict[str, str]) -> None:
    response = group.post(f"/runs/{open_run.pk}/files/", sent)
    assert response.status_code == 409 and "No file was sent" in response.content.decode()


def test_htmx_is_sent_on_to_the_file(group: Client, open_run: Run) -> None:
    file = SimpleUploadedFile("run.csv", curve())
    response = group.post(f"/runs/{open_run.pk}/files/", {"file": file}, headers=HTMX)
    assert response["HX-Redirect"] == f"/files/{LoggerFile.objects.get().pk}/"


def test_names_of_files_are_kept_short_and_shown_escaped(group: Client, open_run: Run) -> None:
    path = handed_in(group, open_run, curve(), "<b>" + "x" * 300 + ".csv")
    assert len(LoggerFile.objects.get().name) <= 255
    assert "<b>x" not in group.get(path).content.decode()


def test_a_file_already_used_elsewhere_is_asked_about(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    hand_in(open_run, curve(), laboratory.group)
    again = Run.objects.create(
        group=open_run.group, bench=open_run.bench, configuration=open_run.configuration,
        method=open_run.method, kind="practice", replicate=1, opened_at=open_run.opened_at,
    )  # fmt: skip
    html = group.get(handed_in(group, again, curve())).content.decode()
    assert f"already used for run {open_run.pk}" in html


def test_a_finished_run_takes_no_file(laboratory: Laboratory, group: Client, open_run: Run) -> None:
    completed(open_run, laboratory)
    file = SimpleUploadedFile("late.csv", curve(2.6))
    response = group.post(f"/runs/{open_run.pk}/files/", {"file": file})
    assert response.status_code == 409
    assert "no readings can be added" in response.content.decode()

"""A connection breaks off before the whole request has come: nothing of it is kept."""

from __future__ import annotations

import io
from collections.abc import Iterable
from typing import Any
from urllib.parse import urlencode

import pytest

from labbook.models import LoggerFile, Run
from labbook.wsgi import BROKEN_OFF, LARGEST, application, only_whole

from .conftest import Page

pytestmark = pytest.mark.django_db(transaction=True)  # the server ends its connections
BOUNDARY = "between"


class Answer:
    def __init__(self) -> None:
        self.status = 0

    def start(self, status: str, headers: list[tuple[str, str]], *rest: Any) -> None:
        self.status = int(status.split()[0])


def serve(pc: Page, path: str, body: bytes, kind: str, came: int) -> tuple[int, str]:
    """Status and text of the answer to a request of which only so many bytes came."""
    session = pc.client.cookies["sessionid"].value
    answer = Answer()
    environ = {
        "REQUEST_METHOD": "POST", "PATH_INFO": f"{pc.address}{path}", "HTTP_HOST": "localhost",
        "SERVER_NAME": "localhost", "SERVER_PORT": "80", "wsgi.url_scheme": "http",
        "wsgi.errors": io.StringIO(), "wsgi.input": io.BytesIO(body[:came]),
        "CONTENT_TYPE": kind, "CONTENT_LENGTH": str(len(body)),
        "HTTP_COOKIE": f"sessionid={session}; csrftoken={'c' * 32}", "HTTP_X_CSRFTOKEN": "c" * 32,
        "HTTP_ACCEPT": "application/json",
    }  # fmt: skip
    content = b"".join(application(environ, answer.start))
    return answer.status, content.decode()


def typed() -> tuple[str, bytes, str]:
    body = urlencode({"time": "30", "page_key": "one", "temperature": "23.1694"}).encode()
    return "/readings/typed/", body, "application/x-www-form-urlencoded"


def file() -> tuple[str, bytes, str]:
    head = f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="file"; filename="a.csv"\r\n\r\n'
    body = head.encode() + b"0,20.1\n" * 400 + f"\r\n--{BOUNDARY}--\r\n".encode()
    return "/files/", body, f"multipart/form-data; boundary={BOUNDARY}"


def test_a_reading_cut_within_its_number_is_not_kept(pc: Page, run: Run) -> None:
    path, body, kind = typed()
    assert serve(pc, path, body, kind, len(body) - 2) == (400, BROKEN_OFF)
    assert not run.blocks.exists()
    assert serve(pc, path, body, kind, len(body))[0] == 200
    assert run.blocks.get().read_details()[0]["temperature"] == "23.1694"


@pytest.mark.parametrize("left_out", [1, 20, 1500])
def test_half_a_file_is_not_kept(pc: Page, left_out: int) -> None:
    path, body, kind = file()
    assert serve(pc, path, body, kind, len(body) - left_out) == (400, BROKEN_OFF)
    assert not LoggerFile.objects.exists()


def test_a_whole_file_is_kept_byte_for_byte(pc: Page) -> None:
    path, body, kind = file()
    assert serve(pc, path, body, kind, len(body))[0] == 302
    assert bytes(LoggerFile.objects.get().content) == b"0,20.1\n" * 400


def test_more_than_any_form_needs_is_not_even_read() -> None:
    def never(environ: Any, start: Any) -> Iterable[bytes]:
        raise AssertionError("it was handed on")

    answer = Answer()
    only_whole(never)({"CONTENT_LENGTH": str(LARGEST + 1), "wsgi.input": None}, answer.start)
    assert answer.status == 413

"""Requests as browsers and devices send them, each on a connection of its own."""

from __future__ import annotations

import http.client
from dataclasses import dataclass, field
from urllib.parse import urlencode

from django.test import Client

from labbook.models import Account

CSRF = "c" * 32
FORM = "application/x-www-form-urlencoded"
BOUNDARY = "between-the-parts"


@dataclass(frozen=True)
class Answer:
    status: int
    content: bytes
    address: str = ""
    cookies: dict[str, str] = field(default_factory=dict)


def ask(
    port: int, method: str, path: str, body: bytes = b"", headers: dict[str, str] | None = None
) -> Answer:
    """One request; OSError or HTTPException where no whole answer came."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    try:
        connection.request(method, path, body, headers or {})
        response = connection.getresponse()
        content = response.read()
    finally:
        connection.close()
    set_cookies = response.headers.get_all("Set-Cookie") or []
    cookies = dict(one.split(";")[0].split("=", 1) for one in set_cookies)
    return Answer(response.status, content, response.headers.get("Location", ""), cookies)


def send_part(port: int, path: str, body: bytes, headers: dict[str, str], left_out: int) -> None:
    """Announce the whole body, leave the end of it out, and go away."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    connection.putrequest("POST", path)
    for name, value in {**headers, "Content-Length": str(len(body))}.items():
        connection.putheader(name, value)
    connection.endheaders(body[:-left_out])
    connection.close()


def session_of(account: Account) -> dict[str, str]:
    """The headers of a browser in which this account signed in a moment ago."""
    client = Client()
    client.force_login(account)
    session = client.cookies["sessionid"].value
    return {"Cookie": f"sessionid={session}; csrftoken={CSRF}", "X-CSRFToken": CSRF}


def form(fields: dict[str, str]) -> tuple[bytes, dict[str, str]]:
    return urlencode(fields).encode(), {"Content-Type": FORM}


def upload(name: str, content: bytes) -> tuple[bytes, dict[str, str]]:
    """A form with one file in it."""
    head = f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="file"; filename="{name}"\r\n\r\n'
    body = head.encode() + content + f"\r\n--{BOUNDARY}--\r\n".encode()
    return body, {"Content-Type": f"multipart/form-data; boundary={BOUNDARY}"}

"""What every answer tells the browser, and that no page holds anything a strict policy forbids."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest
from django.http import HttpResponseBase
from django.test import Client

from ..leaks import body_of
from .conftest import HTMX, Afternoon
from .test_reach import SEEN, address

PERSONAS = ("anonymous", "group", "coordinator")
# Attributes that hold a script's text, by the HTML standard: event handlers.
HANDLER = re.compile("on[a-z]+")
ADDRESSES_IN = {"href", "src", "action", "formaction", "hx-get", "hx-post"}


class Inline(HTMLParser):
    """What stands in a page that script-src 'self' and style-src 'self' would not run or apply."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        is_data = given.get("type") == "application/json"
        if tag == "style" or (tag == "script" and "src" not in given and not is_data):
            self.found.append(f"<{tag}>")
        for name, value in given.items():
            is_script = name in ADDRESSES_IN and (value or "").lower().startswith("javascript:")
            if name == "style" or HANDLER.fullmatch(name) or is_script:
                self.found.append(f"<{tag} {name}>")


def policy_of(response: HttpResponseBase) -> dict[str, list[str]]:
    parts = response.headers["Content-Security-Policy"].split(";")
    return {words[0]: words[1:] for words in (part.split() for part in parts)}


def faults(response: HttpResponseBase) -> list[str]:
    """By Mozilla's HTTP Observatory scheme, from memory: strict policy, nosniff, no frames."""
    policy, headers = policy_of(response), response.headers
    unsafe = {"'unsafe-inline'", "'unsafe-eval'", "*", "http:", "https:"}
    right = {
        "script-src": policy["script-src"] == ["'self'"],
        "object-src": policy["object-src"] == ["'none'"],
        "frame-ancestors": policy["frame-ancestors"] == ["'none'"],
        "base-uri": policy["base-uri"] == ["'self'"],
        "form-action": policy["form-action"] == ["'self'"],
        "default-src": policy["default-src"] == ["'self'"],
        "nothing unsafe": not unsafe & {word for words in policy.values() for word in words},
        "nosniff": headers["X-Content-Type-Options"] == "nosniff",
        "frames": headers["X-Frame-Options"] == "DENY",
        "referrer": headers["Referrer-Policy"] == "same-origin",
        "opener": headers["Cross-Origin-Opener-Policy"] == "same-origin",
        "resources": headers["Cross-Origin-Resource-Policy"] == "same-origin",
        "permissions": "camera=()" in headers["Permissions-Policy"],
    }
    said = [name for name, is_right in right.items() if not is_right]
    is_page = headers.get("Content-Type", "").startswith("text/html")
    if is_page and "attachment" not in headers.get("Content-Disposition", ""):
        said += Inline(body_of(response).decode()).found
    return said


@pytest.mark.parametrize("persona", PERSONAS)
def test_every_answer_has_the_strict_policy_and_holds_nothing_inline(
    afternoon: Afternoon, persona: str
) -> None:
    client, found = afternoon.client(persona), {}
    for name in SEEN:
        path = address(name, afternoon)
        for how, response in {
            "page": client.get(path),
            "part": client.get(path, headers=HTMX),
            "refused": client.delete(path),
        }.items():
            if said := faults(response):
                found[path, how] = said
    assert found == {}


@pytest.mark.parametrize("path", ["/nowhere/", "/api/v1/ping", "/api/v1/openapi.json"])
def test_answers_that_are_no_page_of_the_record_have_it_too(db: None, path: str) -> None:
    assert faults(Client().get(path)) == []


def test_the_search_for_what_is_inline_finds_it() -> None:
    html = '<p style="x" onclick="y"><script>1</script><a href="JavaScript:z"><style></style>'
    assert len(Inline(html).found) == 5
    assert Inline('<script src="a.js"></script><p class="x" data-on="y">').found == []


def test_another_host_name_is_answered_by_nothing_of_the_record(db: None) -> None:
    response = Client(headers={"Host": "elsewhere.example"}).get("/sign-in/")
    assert response.status_code == 400 and b"password" not in response.content


def test_the_page_a_refusal_leads_back_to_is_of_this_record(afternoon: Afternoon) -> None:
    client, path = afternoon.client("group"), address("mark_fired", afternoon)
    for came_from, leads in {
        "http://testserver/runs/1/": "http://testserver/runs/1/",
        "https://elsewhere.example/": "/",
        "javascript:alert(1)": "/",
    }.items():
        response = client.post(path, headers={"Referer": came_from})
        assert response.status_code == 409
        assert f'href="{leads}">Back to where you were' in response.content.decode()

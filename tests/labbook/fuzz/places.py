"""Every address with the fields its forms have, as the pages themselves show them."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import urlsplit

from django.conf import settings
from django.test import Client
from django.urls import reverse

from labbook.actions.devices import make_device
from labbook.actions.reading_tokens import make_reading_token
from labbook.actions.retention import hold_term
from labbook.actions.runs import open_standardization_run
from labbook.addresses import ADDRESSES

from ..pages.conftest import Afternoon
from ..pages.test_reach import address

PERSONAS = ("group", "assistant", "coordinator", "stranger", "anonymous")
READ_BY_THE_CODE = re.compile(r'(?:POST|GET|FILES|sent|data)\.get(?:list)?\(\s*"(\w+)"')
Fields = dict[str, list[str]]


@dataclass
class Place:
    """An address and how it is called; ``known`` are the fields of its forms with their values."""

    name: str
    path: str
    method: str
    known: Fields = field(default_factory=dict)


class Forms(HTMLParser):
    """The forms of a page: by address the names in them, each with the values it offers."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: dict[str, Fields] = defaultdict(lambda: defaultdict(list))
        self._page = self._action = page
        self._method, self._select = "get", ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        has = {name: value or "" for name, value in attrs}
        if "hx-post" in has or tag == "form":
            self._action = urlsplit(has.get("hx-post") or has.get("action") or self._page).path
        if tag == "option" and self._select:
            self._fields[self._select].append(has.get("value", ""))
        name = has.get("name", "")
        if not name or tag not in ("input", "select", "textarea", "button"):
            return
        self._select = name if tag == "select" else ""
        where = urlsplit(has.get("formaction", "")).path or self._action
        self.found[where][name] += [has["value"]] if "value" in has else []

    @property
    def _fields(self) -> Fields:
        return self.found[self._action]


def places(afternoon: Afternoon) -> list[Place]:
    """Every address and method of the table, those of programs apart."""
    there = _paths(afternoon)
    forms = fields_of_forms(afternoon, there)
    return [
        Place(name, path, method, forms.get(path, {}))
        for name, path in there
        for method, path in _called(name, path)
    ]


def _called(name: str, path: str) -> list[tuple[str, str]]:
    """The methods of an address; where it names its deed, each deed."""
    row = ADDRESSES[name]
    deeds = [] if isinstance(row.writes, str) else list(row.writes)
    above = path.rstrip("/").rpartition("/")[0]
    written = [f"{above}/{deed}/" for deed in deeds] or ([path] if row.writes else [])
    return [("GET", path)] * bool(row.reads) + [("POST", one) for one in written]


def _paths(afternoon: Afternoon) -> list[tuple[str, str]]:
    """Where every address is; those about a run for the burned one and for one just opened."""
    lab = afternoon.lab
    opened = open_standardization_run(lab.bench, by=lab.group).pk
    burned = f"/runs/{afternoon.run.pk}/"
    numbers = {
        "revoke_device": make_device(lab.bench, "logger", by=lab.coordinator)[0].pk,
        "revoke_reading_token": make_reading_token("a report", by=lab.coordinator)[0].pk,
        "lift_hold": hold_term(lab.term, "an appeal", by=lab.coordinator).pk,
        "end_sign_in": lab.stranger.pk,
        "open_sign_in": lab.stranger.pk,
    }
    paths = {name: reverse(name, args=[number]) for name, number in numbers.items()}
    others = [name for name in ADDRESSES if not name.startswith("api:") and name not in paths]
    found = [*paths.items(), *((name, address(name, afternoon)) for name in others)]
    again = [(name, path) for name, path in found if path.startswith(burned)]
    return found + [(name, path.replace(burned, f"/runs/{opened}/")) for name, path in again]


def fields_of_forms(afternoon: Afternoon, there: list[tuple[str, str]]) -> dict[str, Fields]:
    """By address what the forms of all pages send to it, whoever is shown them."""
    found: dict[str, Fields] = defaultdict(lambda: defaultdict(list))
    for persona in ("group", "assistant", "coordinator"):
        client = afternoon.client(persona)
        for name, path in there:
            if not ADDRESSES[name].reads or path.endswith((".pdf", ".zip")):
                continue
            for action, fields in _forms_at(client, path).items():
                for field_name, values in fields.items():
                    found[action][field_name] += values
    return found


def _forms_at(client: Client, path: str) -> dict[str, Fields]:
    response = client.get(path, follow=True)
    if response.streaming or "html" not in response["Content-Type"]:
        return {}
    forms = Forms(path)
    forms.feed(response.content.decode())
    return forms.found


def all_names(found: list[Place]) -> list[str]:
    """Every name any form has or any view asks for."""
    root = Path(settings.BASE_DIR) / "labbook"
    sources = [
        path.read_text() for part in ("views", "forms") for path in (root / part).glob("*.py")
    ]
    read = {name for source in sources for name in READ_BY_THE_CODE.findall(source)}
    return sorted(read | {name for place in found for name in place.known})

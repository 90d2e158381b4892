"""Every address as a student: what is in a vial is in no answer before the reveal.

The addresses come from the configuration itself; one whose arguments are not known here fails.
"""

from __future__ import annotations

import logging
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import pytest
import time_machine
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import URLPattern, URLResolver, get_resolver

from labbook.actions.hand_figures import enter_hand_figure
from labbook.actions.runs import open_unknown_run
from labbook.actions.samples import reveal_sample
from labbook.models import Run, Sample, Substance

from .conftest import Laboratory
from .leaks import body_of, found_in, told_by
from .pages.conftest import HTMX, Afternoon, whole_afternoon

STUDENTS = ("group", "stranger", "anonymous")
# What a form may hold; each address takes what it knows of it.
SENT = {
    "bench": "B1", "kind": "unknown", "sample": "U-1", "label": "U-1", "reason": "misread",
    "remark": "as seen", "words": "as seen", "water_ml": "1.5", "room_c": "21", "remarks": "?",
    "settled_at_s": "800", "first": "1", "last": "2", "time": "1300", "temperature": "24.1",
    "moment": "300", "shown": "1", "code": "soot", "answer": "as it is", "value": "1",
}  # fmt: skip


@dataclass
class House:
    afternoon: Afternoon
    run: Run

    def with_arguments(self, route: str) -> str:
        """The route with its arguments filled in from what the group has."""
        it, lab = self.afternoon, self.afternoon.lab
        section = lab.group.group.section_id
        known = {
            "runs/<int:pk>": f"runs/{self.run.pk}",
            "figures/<slug:key>": "figures/water_ml",
            "notes/<slug:code>": "notes/titre_missing",
            "literature/<int:value>": "literature/1",
            "hand-figures/<slug:key>": "hand-figures/rise",
            "since/<int:number>": "since/0",
            "files/<int:pk>": f"files/{it.file.pk}",
            "standardizations/<int:pk>": f"standardizations/{it.standardization.pk}",
            "<slug:deed>": "take-back" if route.startswith("standard") else "out-of-service",
            "benches/<slug:code>": f"benches/{lab.bench.code}",
            "log/<int:pk>": f"log/{it.fault.pk}",
            "breaks/<int:pk>": f"breaks/{it.cut.pk}",
            "at/<slug:label>": f"at/{lab.bench.label}",
            "samples/<int:pk>": f"samples/{lab.sample.pk}",
            "samples/issue/<int:pk>": f"samples/issue/{section}",
            "groups/<int:pk>": f"groups/{lab.group.group_id}",
            "handing-in/<int:version>": "handing-in/1",
            "files/<path:name>": "files/record.json",
            "sections/<int:pk>": f"sections/{section}",
            "terms/<int:pk>": f"terms/{lab.term.pk}",
            "runs/<int:run>": f"runs/{self.run.pk}",
            "holds/<int:pk>": "holds/1",
            "sign-ins/<int:pk>": f"sign-ins/{lab.group.pk}",
            "reduce-again/<int:pk>": f"reduce-again/{it.plan.pk}",
            "devices/<int:pk>": "devices/1",
            "programs/<int:pk>": "programs/1",
            "runs/<number>": f"runs/{self.run.pk}",
            "standardizations/<number>": f"standardizations/{it.standardization.pk}",
            "benches/<code>": f"benches/{lab.bench.code}",
            "marking/<int:pk>": f"marking/{it.hand_in.pk}",
            "readings/<int:number>": "readings/3",
            "runs/<int:number>": f"runs/{self.run.pk}",
            "mark-schemes/<int:pk>": f"mark-schemes/{lab.term.mark_scheme_id}",
            "set-up/<slug:key>/<int:pk>": f"set-up/samples/{lab.sample.pk}",
            "set-up/<slug:key>": "set-up/samples",
        }
        for pattern, filled in known.items():
            route = route.replace(pattern, filled)
        assert "<" not in route, f"/{route}: say with which arguments a student asks for it"
        return f"/{route}"


@pytest.fixture(autouse=True)
def pdf_as_its_page(monkeypatch: pytest.MonkeyPatch) -> None:
    """In place of a PDF the page it is made of: what it tells can be read."""
    for module in ("views.paper", "exchange.package.contents"):
        monkeypatch.setattr(f"labbook.{module}.as_pdf", lambda page, styles: page.encode())
    monkeypatch.setattr("labbook.exchange.package.contents.as_png", lambda drawn, *size: b"")


@pytest.fixture
def house(laboratory: Laboratory) -> House:
    """A burned unknown and an open one, of a vial with everything recorded that could tell."""
    Substance.objects.filter(name="naphthalene").update(density_g_per_cm3="1.617")
    Sample.objects.filter(pk=laboratory.sample.pk).update(lot="KX-7731", difficulty=3)
    benzoic = Substance.objects.get(name="benzoic acid")
    Sample.objects.create(term=laboratory.term, label="U-2", substance=benzoic, max_charge_g="0.65")
    afternoon = whole_afternoon(laboratory)
    open_unknown_run(laboratory.bench, laboratory.sample, by=laboratory.group)
    enter_hand_figure(afternoon.run, "rise", "2.31", "K", by=laboratory.group)
    return House(afternoon, afternoon.run)


def routes(patterns: list[Any] | None = None, before: str = "") -> Iterator[str]:
    for pattern in get_resolver().url_patterns if patterns is None else patterns:
        route = before + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            yield from routes(pattern.url_patterns, route)
        else:
            assert isinstance(pattern, URLPattern)
            yield route


def paths(house: House) -> list[str]:
    """Every address, those of a run for the burned unknown."""
    return [house.with_arguments(route) for route in routes()]


def paths_of_both(house: House) -> list[str]:
    """Every address, those of a run for the burned unknown and for the open one."""
    open_one = House(house.afternoon, Run.objects.get(kind="unknown", state="open"))
    return list(dict.fromkeys([*paths(house), *paths(open_one)]))


def post(client: Client, path: str, sent: dict[str, str]) -> Any:
    """The answer to a form, of which nothing is kept, so that every address finds the same."""
    with transaction.atomic():
        response = client.post(path, sent, follow=True)
        body_of(response)
        transaction.set_rollback(True)
    return response


@pytest.mark.parametrize("persona", STUDENTS)
def test_no_answer_to_a_student_tells(
    house: House, persona: str, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO)
    told = {}
    for path in paths_of_both(house) if persona == "group" else paths(house):
        client = house.afternoon.client(persona)
        answers = {
            "get": client.get(path),
            "part": client.get(path, headers=HTMX),
            "form": post(client, path, SENT),
            "empty form": post(house.afternoon.client(persona), path, {}),
        }
        told |= {(path, how): facts for how, it in answers.items() if (facts := told_by(it))}
        assert all(it.status_code < 500 for it in answers.values()), path
    assert told == {}
    assert found_in(caplog.text) == set()


def test_what_is_looked_for_would_be_found(house: House) -> None:
    """The same search finds everything where it may be: staff's list, and after the reveal."""
    listed = told_by(house.afternoon.client("assistant").get("/samples/"))
    assert {"name", "formula", "literature value", "citation", "lot"} <= listed
    reveal_sample(house.afternoon.lab.sample, by=house.afternoon.lab.coordinator)
    client = house.afternoon.client("group")
    shown = told_by(client.get(f"/runs/{house.run.pk}/result/"))
    assert {"formula", "molar mass", "literature value", "citation"} <= shown
    assert "name" in told_by(client.get(f"/runs/{house.run.pk}/working.json"))


@pytest.mark.parametrize(
    ("text", "fact"),
    [
        ("C<sub>10</sub>H<sub>8</sub>", "formula"),
        ("C₁₀H₈", "formula"),
        ("<msub><mi>C</mi><mn>10</mn></msub> <msub><mi>H</mi><mn>8</mn></msub>", "formula"),
        ("C&#8321;&#8320;H&#8328;", "formula"),
        ('{"of": "C\\u2081\\u2080H\\u2088"}', "formula"),
        ("Na%70hthalene.csv".lower(), "name"),
        ("M = 128,17 g/mol", "molar mass"),
        ("−5\u202f156.15 ± 0.92", "literature value"),
    ],
)
def test_it_is_found_however_it_is_written(text: str, fact: str) -> None:
    assert fact in found_in(text)


@pytest.mark.parametrize("persona", ["assistant", "coordinator"])
def test_no_browser_keeps_a_page_of_staff_that_tells(house: House, persona: str) -> None:
    client, telling = house.afternoon.client(persona), 0
    for path in paths(house):
        response = client.get(path)
        if told_by(response):
            telling += 1
            assert "no-store" in response["Cache-Control"], path
    assert telling >= 3


PASSING = re.compile("django_session|SAVEPOINT")
TOKEN = re.compile(rb"(?<![A-Za-z0-9])[A-Za-z0-9]{64}(?![A-Za-z0-9])")


def numbering() -> list[tuple[str, int, bool]]:
    """The last number of every table, where the database counts on past what was taken back."""
    if connection.vendor != "postgresql":
        return []
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT sequencename, COALESCE(last_value, 1), last_value IS NOT NULL FROM pg_sequences"
        )
        return cursor.fetchall()


def number_on_from(begun: list[tuple[str, int, bool]]) -> None:
    with connection.cursor() as cursor:
        for name, value, was_used in begun:
            cursor.execute("SELECT setval(%s, %s, %s)", [name, value, was_used])


def answers(house: House, found: list[str]) -> dict[str, tuple[int, bytes, list[str]]]:
    """Each answer to the group, without its random tokens, and the statements it took."""
    seen = {}
    for path in found:
        client = house.afternoon.client("group")
        with CaptureQueriesContext(
            connection,
        ) as queries:
            response = client.get(path)
            sent = post(client, path, SENT | {"water_ml": "1.7"})
        bodies = TOKEN.sub(b"", body_of(response) + b"\n" + body_of(sent))
        kept = [row["sql"] for row in queries if not PASSING.search(row["sql"])]
        seen[path] = (response.status_code, bodies, kept)
    return seen


def test_another_identity_changes_no_byte_and_no_statement(house: House) -> None:
    """So neither what is answered nor how long it takes can depend on what is in the vial."""
    client = house.afternoon.client("group")
    found = [path for path in paths_of_both(house) if client.get(path).status_code != 403]
    with time_machine.travel(datetime.now(UTC), tick=False):
        answers(house, found[:3])  # What is looked up once only is looked up now.
        begun = numbering()
        before = answers(house, found)
        sucrose = Substance.objects.create(
            name="sucrose", formula="C12H22O11", density_g_per_cm3="1.58", phase="s"
        )
        Sample.objects.filter(pk=house.afternoon.lab.sample.pk).update(
            substance=sucrose, lot="", difficulty=1, max_charge_g="1.1"
        )
        number_on_from(begun)
        after = answers(house, found)
    differ = [path for path in found if before[path][:2] != after[path][:2]]
    assert differ == []
    assert [path for path in found if before[path][2] != after[path][2]] == []

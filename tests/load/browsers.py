"""Browsers as people use them, and the devices beside them."""

from __future__ import annotations

import json
import random
import re
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime

from labbook.models import Account

from .house import BEFORE, PASSWORD, House, Station, value_of
from .measured import Measured
from .requests import form

SHEET_FIELDS = ("charge_gross_g", "room_c", "remarks", "titre_ml", "water_ml")


@dataclass
class Browser:
    """One browser: its cookies, the files it has kept, the account that signs in with it."""

    port: int
    measured: Measured
    account: Account
    cookies: dict[str, str] = field(default_factory=dict)
    kept: set[str] = field(default_factory=set)

    def headers(self, **more: str) -> dict[str, str]:
        cookie = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        token = self.cookies.get("csrftoken", "")
        return {"Cookie": cookie, "X-CSRFToken": token, "X-Account": "", **more}

    def get(self, what: str, path: str, fine: tuple[int, ...] = (200,), **headers: str) -> str:
        sent = self.headers(**headers)
        answer = self.measured.ask(what, self.port, "GET", path, headers=sent, fine=fine)
        return answer.content.decode() if answer else ""

    def page(self, what: str, path: str) -> str:
        """A page, and the files it names that this browser has not kept yet."""
        content = self.get(f"page: {what}", path)
        for file in set(re.findall(r'(?:href|src)="(/static/[^"]+)"', content)) - self.kept:
            self.kept.add(file)
            packed = {"Accept-Encoding": "gzip"}
            self.measured.ask("files of pages", self.port, "GET", file, headers=packed)
        return content

    def post(self, what: str, path: str, fields: dict[str, str], **headers: str) -> None:
        body, kind = form(fields)
        sent = self.headers(**kind, **headers)
        self.measured.ask(what, self.port, "POST", path, body, sent, fine=(200, 302))

    def sign_in(self) -> None:
        self.page("sign in", "/sign-in/")
        self.cookies["csrftoken"] = "c" * 32
        body, kind = form({"username": self.account.username, "password": PASSWORD})
        answer = self.measured.ask(
            "signing in", self.port, "POST", "/sign-in/", body, self.headers(**kind), fine=(302,)
        )
        self.cookies |= answer.cookies if answer else {}


def waits(ends: float, every_s: float, first_s: float) -> Iterator[int]:
    """Numbers, one every so often, give or take a fifth, until it ends."""
    due, number = time.monotonic() + first_s, 0
    while due < ends:
        time.sleep(max(0.0, due - time.monotonic()))
        yield number
        number += 1
        due = max(due + every_s * random.uniform(0.8, 1.2), time.monotonic())


def at_the_bench(browser: Browser, station: Station, ends: float) -> None:
    """The page of the readings: newer ones every 2 s, the whole curve now and then."""
    browser.sign_in()
    address, last = f"/runs/{station.run.pk}", BEFORE
    browser.page("readings", f"{address}/readings/")
    for number in waits(ends, 2.0, 1.0):
        if number % 10 == 9:
            browser.get("curve redrawn", f"{address}/readings/", **{"HX-Request": "true"})
        content = browser.get("newer readings", f"{address}/since/{last}/")
        if content:
            answer = json.loads(content)
            last = answer["last"]
            if number:  # the first time it asks it catches up
                note_lags(browser.measured, station, answer["temperatures_c"])


def note_lags(measured: Measured, station: Station, values: list[float]) -> None:
    """How old these readings are now."""
    now = time.monotonic()
    moments = [station.read_at.get(round(value, 3)) for value in values]
    measured.lags_s.extend(now - moment for moment in moments if moment)


def at_the_sheet(browser: Browser, station: Station, ends: float) -> None:
    """A second student of the group: looks at the run's pages, fills in figures."""
    browser.sign_in()
    address = f"/runs/{station.run.pk}"
    pages = {
        "this afternoon": "/afternoon/", "run sheet": f"{address}/",
        "readings": f"{address}/readings/", "hand figures": f"{address}/hand-figures/",
        "handing in": f"/groups/{station.group.group_id}/handing-in/",
    }  # fmt: skip
    for number in waits(ends, 4.0, 4 * random.random()):
        if number % 2:
            key = SHEET_FIELDS[number % len(SHEET_FIELDS)]
            figure = {key: f"{13 + number / 1000:.4f}"}
            browser.post(
                "figure saved", f"{address}/figures/{key}/", figure, **{"HX-Request": "true"}
            )
        else:
            what = random.choice(list(pages))
            browser.page(what, pages[what])


def of_the_section(browser: Browser, house: House, number: int, ends: float) -> None:
    """A TA: the section's page asks every 4 s by itself, other pages are opened in between."""
    browser.sign_in()
    section = house.sections[number % len(house.sections)]
    own = [one for one in house.stations if one.group.group.section_id == section.pk]
    address = f"/sections/{section.pk}/"
    seen = ""
    for count in waits(ends, 4.0, 4 * random.random()):
        if count % 4 == 0:
            content = browser.page("section", address)
            seen = (re.findall(r"\?seen=([^\"]+)", content) or [""])[0]
            continue
        headers = {"HX-Request": "true", "X-By-Itself": "1"}
        content = browser.get("section asked", f"{address}?seen={seen}", (200, 204), **headers)
        seen = (re.findall(r"\?seen=([^\"]+)", content) or [seen])[0]
        if count % 2:
            run = random.choice(own).run.pk
            what, path = random.choice(
                [("review desk", "/review/"), ("runs", "/runs/"), ("run sheet", f"/runs/{run}/"),
                 ("readings", f"/runs/{run}/readings/"), ("end of section", f"{address}end/")]
            )  # fmt: skip
            browser.page(what, path)


def of_the_benches(browser: Browser, house: House, ends: float) -> None:
    """A coordinator: benches and their histories."""
    browser.sign_in()
    for count in waits(ends, 8.0, 8 * random.random()):
        code = random.choice(house.benches).code
        what, path = [
            ("benches", "/benches/"), ("bench history", f"/benches/{code}/"),
            ("bench log", f"/benches/{code}/log/"), ("runs", "/runs/"),
            ("review desk", "/review/"),
        ][count % 5]  # fmt: skip
        browser.page(what, path)
        if what == "bench history":
            browser.get("page: part of a history", f"{path}wear/", **{"HX-Request": "true"})


def post_readings(
    port: int, measured: Measured, station: Station, ends: float, first_s: float
) -> None:
    """A device: a reading a second; what was not answered is sent again with the next one."""
    waiting: list[dict[str, object]] = []
    due, number = time.monotonic() + first_s, BEFORE
    headers = {"Authorization": f"Bearer {station.token}", "Content-Type": "application/json"}
    while due < ends or (waiting and time.monotonic() < ends + 30):
        time.sleep(max(0.0, due - time.monotonic()))
        if due < ends:
            number += 1
            station.read_at[value_of(number)] = time.monotonic()
            clock, value = datetime.now(UTC).isoformat(), f"{value_of(number):.3f}"
            waiting.append({"seq": number, "clock": clock, "value": value, "unit": "°C"})
        due += 1
        body = json.dumps({"sent_at": datetime.now(UTC).isoformat(), "readings": waiting})
        answer = measured.ask(
            "reading sent", port, "POST", "/api/v1/readings", body.encode(), headers
        )
        if answer is not None:
            waiting = []

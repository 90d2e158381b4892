"""How the server holds out on a full afternoon: 24 devices send a reading a second, 60 browsers.

    .venv/bin/python -m tests.load.house_load [--seconds 60] [--database postgres://…]

Everybody comes in within half a minute, which is told apart; then it is measured.
Two web processes on a record of its own with 2,000 earlier runs; every run at the benches has
1,200 readings already. Of the browsers 24 show the readings at a bench, 24 fill in sheets, 8 are
TAs' and 4 coordinators'; each signs in, asks by itself as often as its page does, and opens other
pages. Beside them a bare Django view that inserts one row and reads it is asked now and then, of a
server alike on a database alike. It stops by itself. Exit code 1 when a reading was lost or
doubled, or when 95 % of the pages took longer than a second.
"""

from __future__ import annotations

from tests.load import scratch_record  # isort: skip  # noqa: F401  it makes the record labbook reads

import argparse
import json
import os
import random
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime

from django.db import connection

from labbook.models import Account, ReadingBlock

from . import browsers
from .browsers import Browser
from .house import House, Station, set_up
from .measured import COMING_IN, Measured, p95_of
from .serving import Server

RAMP_S, LONGEST_MS = 30.0, 1000
WIDTH = 26


def everybody(house: House, port: int, measured: Measured, ends: float) -> list[Callable[[], None]]:
    """What each device and each browser does."""
    stations, deeds = house.stations, list[Callable[[], None]]()

    def browser(account: Account) -> Browser:
        return Browser(port, measured, account)

    for number, one in enumerate(stations):
        offset = number / len(stations)
        deeds += [
            lambda one=one, offset=offset: browsers.post_readings(
                port, measured, one, ends, offset
            ),
            lambda one=one: browsers.at_the_bench(browser(one.group), one, ends),
            lambda one=one: browsers.at_the_sheet(browser(one.group), one, ends),
        ]
    for number, one in enumerate(house.assistants):
        deeds.append(
            lambda one=one, n=number: browsers.of_the_section(browser(one), house, n, ends)
        )
    for _ in range(4):
        keeper = browser(house.coordinator)
        deeds.append(lambda keeper=keeper: browsers.of_the_benches(keeper, house, ends))
    return deeds


def ask_bare(measured: Measured, what: str, port: int) -> None:
    measured.ask(what, port, "POST", "/", b"a row")


def one_after_the_other(measured: Measured, station: Station, server: Server, bare: Server) -> None:
    """The same before anybody else is there: a device's ping of data against the bare view."""
    headers = {"Authorization": f"Bearer {station.token}", "Content-Type": "application/json"}
    for number in range(100):
        clock = datetime.now(UTC).isoformat()
        reading = {"seq": 10**6 + number, "clock": clock, "value": "19.5", "unit": "°C"}
        body = json.dumps({"sent_at": clock, "series": "quiet", "readings": [reading]}).encode()
        measured.ask("quiet: reading", server.port, "POST", "/api/v1/readings", body, headers)
        ask_bare(measured, "quiet: bare view", bare.port)


def run_all(deeds: list[Callable[[], None]], ramp_s: float) -> None:
    """Start them one after the other, and wait until each has ended by itself."""
    threads = [threading.Thread(target=deed, daemon=True) for deed in deeds]
    for thread in threads:
        thread.start()
        time.sleep(ramp_s / len(threads))
    for thread in threads:
        thread.join(120)


def count_kept(stations: list[Station]) -> tuple[int, int, int]:
    """Readings sent during the measurement, lost and doubled."""
    sent = lost = doubled = 0
    for one in stations:
        blocks = ReadingBlock.objects.filter(run=one.run)
        details = [detail for block in blocks for detail in block.read_details()]
        kept = Counter(round(float(d["value"]), 3) for d in details if d["series"] == "")
        sent += len(one.read_at)
        lost += len(set(one.read_at) - set(kept))
        doubled += sum(count - 1 for count in kept.values())
    return sent, lost, doubled


def show(measured: Measured) -> float:
    """The table; the p95 of all pages in ms."""
    print(f"{'':{WIDTH}}{'count':>7}{'p50 ms':>9}{'p95 ms':>9}{'max ms':>9}")
    steady = sorted(kind for kind in measured.taken_ms if not kind.startswith(COMING_IN))
    for kind in steady:
        measured.show(kind.removeprefix("page: "), [kind], WIDTH)
    pages = [kind for kind in steady if kind.startswith("page: ")]
    measured.show("all pages", pages, WIDTH)
    first = [kind for kind in measured.taken_ms if kind.startswith(f"{COMING_IN}page: ")]
    measured.show("pages while coming in", first, WIDTH)
    measured.show("signing in", [f"{COMING_IN}signing in"], WIDTH)
    lags = sorted(measured.lags_s)
    if lags:
        print(f"behind the device: p50 {lags[len(lags) // 2]:.2f} s, ", end="")
        print(f"p95 {p95_of(lags):.2f} s, max {lags[-1]:.2f} s")
    print("answers nobody expects:", dict(measured.errors) or "none")
    return p95_of(measured.of(pages))


def show_ratios(measured: Measured) -> None:
    pairs = [
        ("a reading sent, nobody else there", "quiet: reading", "quiet: bare view"),
        ("a reading sent, under load", "reading sent", "bare view"),
        ("a run sheet, under load", "page: run sheet", "bare view"),
    ]
    print("median against the bare view that inserts and reads one row:", end=" ")
    print("; ".join(f"{words} {ratio(measured, a, b):.1f}" for words, a, b in pairs))


def ratio(measured: Measured, what: str, bare: str) -> float:
    return measured.median_ms(what) / measured.median_ms(bare)


def measure(house: House, seconds: float, server: Server, bare: Server) -> Measured:
    measured = Measured()
    one_after_the_other(measured, house.stations[0], server, bare)
    measured.begins = time.monotonic() + RAMP_S
    ends = measured.begins + seconds

    def beside() -> None:
        for _ in browsers.waits(ends, 0.5, 0.0):
            ask_bare(measured, "bare view", bare.port)

    before_s, own_s, began = server.cpu_s(), time.process_time(), time.monotonic()
    deeds = everybody(house, server.port, measured, ends)
    random.Random(1).shuffle(deeds)
    run_all([beside, *deeds], RAMP_S)
    took_s, cores = time.monotonic() - began, os.cpu_count() or 1
    used, own = server.cpu_s() - before_s, time.process_time() - own_s
    print(f"{took_s:.0f} s on {cores} cores: the server used {used / took_s:.2f} of them, ", end="")
    print(f"the browsers and devices {own / took_s:.2f}, load {os.getloadavg()[0]:.1f}")
    return measured


def collect_static_files() -> None:
    """As on a real server: named by their content, compressed once."""
    os.environ["LABBOOK_COLLECTED"] = "1"
    collect = [sys.executable, "manage.py", "collectstatic", "--noinput", "--verbosity", "0"]
    subprocess.run(collect, check=True)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--database", metavar="URL", help="a PostgreSQL server, to use instead")
    asked = parser.parse_args()
    house = set_up()
    connection.close()
    collect_static_files()
    server, bare = Server(), Server("tests.load.bare.wsgi:application")
    try:
        server.start()
        bare.start()
        measured = measure(house, asked.seconds, server, bare)
    finally:
        server.close()
        bare.close()
    sent, lost, doubled = count_kept(house.stations)
    print(f"{connection.vendor}: {sent} readings sent, {lost} lost, {doubled} doubled")
    p95_ms = show(measured)
    show_ratios(measured)
    return 0 if not lost and not doubled and p95_ms <= LONGEST_MS else 1


if __name__ == "__main__":
    sys.exit(main())

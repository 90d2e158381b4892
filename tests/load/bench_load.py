"""How the server holds out on a full afternoon: benches post a reading a second, browsers ask.

    .venv/bin/python -m tests.load.bench_load [--seconds 120] [--benches 24] [--browsers 10]

Starts a real server of its own, two worker processes, on a temporary record. Prints how many
readings were lost or doubled, how long posts, asks and pages took, and how far behind the device
the readings were when a browser had them. Exit code 1 when a reading was lost or doubled.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import resource
import signal
import socket
import statistics
import subprocess
import sys
import threading
import time
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from tests.speed import temporary_record  # isort: skip  it makes the record labbook reads

from django.contrib.sessions.backends.db import SessionStore
from django.utils import timezone

from labbook.actions import devices, runs
from labbook.models import (
    Account,
    Bench,
    BenchConfiguration,
    Group,
    Method,
    Part,
    ReadingBlock,
    Role,
    Run,
    Section,
    Term,
)  # fmt: skip

WORKERS, ASK_EVERY_S, PAGE_EVERY_S = 2, 2.0, 15.0


@dataclass
class Station:
    """A bench with its open run, the token of its device and a cookie of its group."""

    token: str
    run: Run
    cookie: str
    read_at: dict[float, float] = field(default_factory=dict)


@dataclass
class Measured:
    """Durations in ms by what was asked, answers that were no 200, lags in s."""

    taken_ms: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    errors: Counter[str] = field(default_factory=Counter)
    lags_s: list[float] = field(default_factory=list)


def set_up(count: int) -> list[Station]:
    keeper = Account.objects.create(username="keeper", name="keeper", role=Role.COORDINATOR)
    method = Method.objects.create(name="load", made_by=keeper, made_at=timezone.now())
    today = timezone.localdate()
    ends = today + timedelta(days=30)
    term = Term.objects.create(name="load", starts=today, ends=ends, method=method)
    section = Section.objects.create(term=term, name="load")
    return [station(f"B{number}", section, keeper) for number in range(1, count + 1)]


def station(code: str, section: Section, keeper: Account) -> Station:
    bench = Bench.objects.create(code=code)
    parts = {
        kind: Part.objects.create(kind=kind, serial=f"{kind}-{code}")
        for kind in BenchConfiguration.PARTS
    }
    BenchConfiguration.objects.create(
        bench=bench, since=timezone.now() - timedelta(days=9), nominal_water_g=2000,
        bomb_volume_ml=340, reason="load", made_by=keeper, **parts,
    )  # fmt: skip
    group = Group.objects.create(section=section, code=code, bench=bench)
    account = Account.objects.create(username=code.lower(), name=code, role=Role.GROUP, group=group)
    device, token = devices.make_device(bench, "probe", by=keeper)
    run = runs.open_other_run(bench, Run.Kind.PRACTICE, by=account)
    devices.listen_to_device(run, device, by=account)
    return Station(token, run, cookie_of(account))


def cookie_of(account: Account) -> str:
    session = SessionStore()
    session["_auth_user_id"] = str(account.pk)
    session["_auth_user_backend"] = "django.contrib.auth.backends.ModelBackend"
    session["_auth_user_hash"] = account.get_session_auth_hash()
    session.save()
    return f"sessionid={session.session_key}"


def serve() -> tuple[subprocess.Popen[bytes], int]:
    """The server as a laboratory runs it, on a free port."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [
        sys.executable, "-m", "gunicorn", "labbook.wsgi", "--workers", str(WORKERS),
        "--bind", f"127.0.0.1:{port}", "--log-level", "warning",
    ]  # fmt: skip
    environment = os.environ | {"LABBOOK_DATA": temporary_record.folder.name}
    process = subprocess.Popen(command, env=environment)
    for _ in range(200):
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return process, port
        time.sleep(0.1)
    raise SystemExit("the server did not start")


@dataclass
class Client:
    port: int
    measured: Measured

    def ask(self, what: str, method: str, path: str, body: str = "", **headers: str) -> Any:
        """One request on a connection of its own; None when it was not answered with 200."""
        began = time.perf_counter()
        try:
            connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)
            connection.request(method, path, body.encode(), headers)
            response = connection.getresponse()
            content = response.read()
            connection.close()
        except OSError as error:
            self.measured.errors[f"{what}: {type(error).__name__}"] += 1
            return None
        self.measured.taken_ms[what].append(1000 * (time.perf_counter() - began))
        if response.status != 200:
            self.measured.errors[f"{what}: {response.status}"] += 1
            return None
        return content


def post_readings(station: Station, client: Client, ends: float, offset_s: float) -> None:
    """A reading a second; what was not answered is sent again with the next one."""
    waiting: list[dict[str, Any]] = []
    due, number = time.monotonic() + offset_s, 0
    headers = {"Authorization": f"Bearer {station.token}", "Content-Type": "application/json"}
    while due < ends or waiting:
        time.sleep(max(0, due - time.monotonic()))
        due += 1
        if due <= ends + 1:
            number += 1
            value = round(20 + number / 1000, 3)
            station.read_at[value] = time.monotonic()
            clock = datetime.now(UTC).isoformat()
            waiting.append({"seq": number, "clock": clock, "value": str(value), "unit": "°C"})
        elif time.monotonic() > ends + 30:
            return
        body = json.dumps({"sent_at": datetime.now(UTC).isoformat(), "readings": waiting})
        if client.ask("post", "POST", "/api/v1/readings", body, **headers) is not None:
            waiting = []


def watch(station: Station, client: Client, ends: float, offset_s: float) -> None:
    """A browser on the page of the readings: newer ones every 2 s, the whole curve now and then."""
    time.sleep(offset_s)
    last, page_at = 0, 0.0
    headers, address = {"Cookie": station.cookie}, f"/runs/{station.run.pk}"
    while time.monotonic() < ends:
        if time.monotonic() - page_at > PAGE_EVERY_S:
            page_at = time.monotonic()
            htmx = headers | {"HX-Request": "true"}
            client.ask("curve", "GET", f"{address}/readings/", **htmx)
        content = client.ask("ask", "GET", f"{address}/since/{last}/", **headers)
        if content is not None:
            answer = json.loads(content)
            now = time.monotonic()
            if last:
                seen = [station.read_at[round(value, 3)] for value in answer["temperatures_c"]]
                client.measured.lags_s.extend(now - moment for moment in seen)
            last = answer["last"]
        time.sleep(ASK_EVERY_S)


def count_kept(stations: list[Station]) -> tuple[int, int, int]:
    """Readings sent, lost and doubled."""
    sent = lost = doubled = 0
    for one in stations:
        blocks = ReadingBlock.objects.filter(run=one.run)
        kept = Counter(d["seq"] for block in blocks for d in block.read_details())
        sent += len(one.read_at)
        lost += len(set(range(1, len(one.read_at) + 1)) - set(kept))
        doubled += sum(count - 1 for count in kept.values())
    return sent, lost, doubled


def show(measured: Measured) -> None:
    print(f"{'':8}{'count':>7}{'p50 ms':>9}{'p95 ms':>9}{'max ms':>9}")
    for what, taken in sorted(measured.taken_ms.items()):
        p95 = statistics.quantiles(taken, n=20)[-1] if len(taken) > 1 else taken[0]
        middle = statistics.median(taken)
        print(f"{what:8}{len(taken):7}{middle:9.0f}{p95:9.0f}{max(taken):9.0f}")
    if len(measured.lags_s) > 1:
        lags = sorted(measured.lags_s)
        p95 = statistics.quantiles(lags, n=20)[-1]
        print(f"behind the device: p50 {statistics.median(lags):.2f} s, p95 {p95:.2f} s, ", end="")
        print(f"max {lags[-1]:.2f} s")
    print("answers that were no 200:", dict(measured.errors) or "none")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=120)
    parser.add_argument("--benches", type=int, default=24)
    parser.add_argument("--browsers", type=int, default=10)
    chosen = parser.parse_args()
    stations = set_up(chosen.benches)
    process, port = serve()
    measured = Measured()
    client = Client(port, measured)
    ends = time.monotonic() + chosen.seconds
    threads = [
        threading.Thread(target=post_readings, args=(one, client, ends, number / len(stations)))
        for number, one in enumerate(stations)
    ] + [
        threading.Thread(target=watch, args=(stations[n % len(stations)], client, ends, n / 5))
        for n in range(chosen.browsers)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    process.send_signal(signal.SIGTERM)
    process.wait(20)
    sent, lost, doubled = count_kept(stations)
    print(f"{sent} readings sent, {lost} lost, {doubled} doubled")
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    busy = (used.ru_utime + used.ru_stime) / (chosen.seconds * (os.cpu_count() or 1))
    print(f"the server used {100 * busy:.0f} % of {os.cpu_count()} cores, ", end="")
    print(f"the machine's load was {os.getloadavg()[0]:.1f}")
    show(measured)
    return 1 if lost or doubled else 0


if __name__ == "__main__":
    sys.exit(main())

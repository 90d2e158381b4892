"""A laboratory in full swing: two years of records, 24 benches with a device and a group each."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from django.utils import timezone

from labbook.actions import device_readings, devices, runs
from labbook.intake.device_posts import read_readings
from labbook.models import (
    Account,
    Bench,
    BenchConfiguration,
    Device,
    Group,
    Part,
    Role,
    Run,
    Section,
    Term,
)
from tests.speed.history_growth import Record

BENCHES, SECTIONS, PAST_RUNS = 24, 4, 2000
BEFORE = 1200
"""Readings each device has sent when the measurement begins: twenty minutes of them."""
PASSWORD = "load-of-the-house"


@dataclass
class Station:
    """A bench with its open run, its group's sign-in and the token of its device."""

    token: str
    run: Run
    group: Account
    read_at: dict[float, float] = field(default_factory=dict)


@dataclass
class House:
    stations: list[Station]
    assistants: list[Account]
    coordinator: Account
    sections: list[Section]
    benches: list[Bench]


def set_up() -> House:
    record = Record()
    record.grow_to(PAST_RUNS)
    keeper = record.coordinator
    benches = list(record.benches)
    for number in range(len(benches), BENCHES):
        benches.append(new_bench(f"B{number + 1}", keeper))
    sections = made_sections(record)
    assistants = [with_sign_in(f"ta-{n}", Role.ASSISTANT) for n in range(2 * SECTIONS)]
    for number, assistant in enumerate(assistants):
        sections[number % SECTIONS].assistants.add(assistant)
    with_password(keeper)
    stations = [
        station(bench, sections[number % SECTIONS], keeper) for number, bench in enumerate(benches)
    ]
    return House(stations, assistants, keeper, sections, benches)


def new_bench(code: str, keeper: Account) -> Bench:
    """A bench put up last week, with no service due yet."""
    parts = {
        kind: Part.objects.create(kind=kind, serial=f"{kind}-{code}")
        for kind in BenchConfiguration.PARTS
    }
    bench = Bench.objects.create(code=code)
    BenchConfiguration.objects.create(
        bench=bench, since=timezone.now() - timedelta(days=7), nominal_water_g=2000,
        bomb_volume_ml=340, reason="load", made_by=keeper, **parts,
    )  # fmt: skip
    return bench


def made_sections(record: Record) -> list[Section]:
    today = timezone.localdate()
    term = Term.objects.create(
        name="this term", starts=today - timedelta(days=9), ends=today + timedelta(days=90),
        method=record.method,
    )  # fmt: skip
    names = [f"section {number}" for number in range(SECTIONS)]
    return [Section.objects.create(term=term, name=name) for name in names]


def with_password(account: Account) -> Account:
    account.set_password(PASSWORD)
    account.save()
    return account


def with_sign_in(username: str, role: str, group: Group | None = None) -> Account:
    return with_password(Account(username=username, name=username, role=role, group=group))


def station(bench: Bench, section: Section, keeper: Account) -> Station:
    """The group's run has been going on for twenty minutes."""
    group = Group.objects.create(section=section, code=f"G{bench.code}", bench=bench)
    account = with_sign_in(f"g-{bench.code.lower()}", Role.GROUP, group)
    device, token = devices.make_device(bench, "probe", by=keeper)
    run = runs.open_other_run(bench, Run.Kind.PRACTICE, by=account)
    opened_at = timezone.now() - timedelta(seconds=BEFORE + 60)
    Run.objects.filter(pk=run.pk).update(opened_at=opened_at)
    devices.listen_to_device(run, device, by=account)
    send_earlier(device)
    return Station(token, run, account)


def send_earlier(device: Device) -> None:
    now = time.time()
    sent = [
        {"seq": n, "clock": datetime.fromtimestamp(now - BEFORE + n, UTC).isoformat(),
         "value": f"{value_of(n):.3f}", "unit": "°C"}
        for n in range(1, BEFORE + 1)
    ]  # fmt: skip
    readings, _ = read_readings(sent, by_time_of_day=True)
    device_readings.take_device_readings(device_readings.Post(readings, now), by=device)


def value_of(number: int) -> float:
    """What a device reads as its n-th: each value once, so that a reading can be told again."""
    return round(20 + number / 1000, 3)

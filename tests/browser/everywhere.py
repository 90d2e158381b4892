"""Every page of the record, with something on it, as those see it who may."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from django.test import Client
from django.urls import reverse
from django.utils import timezone

from labbook.actions import files as file_actions
from labbook.actions import misfires
from labbook.actions import runs as run_actions
from labbook.actions import sheets as sheet_actions
from labbook.forms.setup import BY_KEY
from tests.labbook.conftest import (
    Laboratory,
    curve,
    fired,
    hand_in,
    ready_to_fire,
    set_up_laboratory,
    signed_in,
)
from tests.labbook.histories import SOUND, approved_values, with_runs
from tests.labbook.pages.conftest import Afternoon, whole_afternoon
from tests.labbook.pages.test_reach import PERSONAS, SEEN, address

READERS = ("anonymous", "group", "assistant", "coordinator")
# Addresses that hand out a file or data and are no page.
FILES = (
    "/health/",
    "/since/0/",
    ".pdf",
    ".csv",
    ".json",
    ".css",
    ".zip",
    ".xlsx",
    ".svg",
    ".png",
    ".txt",
    ".tex",
)


@dataclass(frozen=True)
class Stop:
    """One page as one person sees it."""

    reader: str
    name: str
    path: str


@dataclass
class House:
    """A laboratory in the middle of its work, behind a server."""

    url: str
    clients: dict[str, Client]
    stops: list[Stop]

    def seen_by(self, reader: str) -> list[Stop]:
        return [stop for stop in self.stops if stop.reader == reader]

    def address_of(self, name: str) -> str:
        return self.url + next(stop.path for stop in self.stops if stop.name == name)


def busy_house(url: str) -> House:
    lab = set_up_laboratory()
    afternoon = whole_afternoon(lab)
    stops = shared_stops(afternoon) + stops_at_states(lab) + stops_at_set_up()
    signs = {"noise_k": 0.001, "fore_drift_k_per_s": 1e-5, "time_to_95_s": 180.0}
    for made in approved_values(lab, SOUND, newest=timezone.now() - timedelta(days=7)):
        with_runs(made, (10_080.0, 10_092.0), **signs)
    clients = {
        reader: Client() if reader == "anonymous" else signed_in(getattr(lab, reader))
        for reader in READERS
    }
    return House(url, clients, stops)


def shared_stops(afternoon: Afternoon) -> list[Stop]:
    """Every address that is a page, for each who may see it by the table of addresses."""
    return [
        Stop(reader, name, address(name, afternoon))
        for reader in READERS
        for name, given in SEEN.items()
        if given[PERSONAS.index(reader)] == 200 and not address(name, afternoon).endswith(FILES)
    ]


def stops_at_states(lab: Laboratory) -> list[Stop]:
    """A run's sheet and readings in every state, and a logger file not taken yet."""
    opened, ready, burned, aside = (
        run_actions.open_standardization_run(lab.bench, by=lab.group) for _ in range(4)
    )
    sheet_actions.enter_figure(opened, "oxygen_atm", "25", by=lab.group)
    sheet_actions.enter_figure(opened, "oxygen_atm", "26", by=lab.group)
    ready_to_fire(ready, lab)
    hand_in(fired(burned, lab), curve(), lab.group)
    misfires.report_misfire(fired(aside, lab), "no rise seen", by=lab.group)
    hidden = run_actions.open_unknown_run(lab.bench, lab.sample, by=lab.group)
    states = {
        "open": opened, "ready": ready, "fired": burned, "aside": aside, "hidden": hidden,
    }  # fmt: skip
    file = file_actions.keep_file(ready, "other.csv", curve(2.4), by=lab.group)
    return [
        Stop("group", f"{page}, {state}", reverse(page, kwargs={"pk": run.pk}))
        for state, run in states.items()
        for page in ("run", "run_readings")
    ] + [
        Stop("group", "run_result, aside", reverse("run_result", kwargs={"pk": aside.pk})),
        Stop("group", "file, not taken", reverse("file", kwargs={"pk": file.pk})),
    ]


def stops_at_set_up() -> list[Stop]:
    """The form of every kind of record the coordinator looks after."""
    return [
        Stop("coordinator", f"setup_new, {key}", reverse("setup_new", kwargs={"key": key}))
        for key in BY_KEY
    ]

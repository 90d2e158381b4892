"""A device with its token, and a run that takes its readings."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from labbook.actions import devices, runs
from labbook.models import Device, Run

from ..conftest import Laboratory

ADDRESS = "/api/v1/readings"


@dataclass
class Sender:
    """Posts as the device would, with a token of the bench."""

    device: Device
    token: str

    def post(self, body: Any, **headers: str) -> Any:
        text = body if isinstance(body, str | bytes) else json.dumps(body)
        sent = {"Authorization": f"Bearer {self.token}", **headers}
        return Client().post(ADDRESS, text, content_type="application/json", headers=sent)

    def send(self, *readings: dict[str, Any], **more: Any) -> Any:
        return self.post({"sent_at": moment(), "readings": list(readings), **more})


def moment(ago_s: float = 0) -> str:
    return (timezone.now() - timedelta(seconds=ago_s)).isoformat()


def reading(seq: int, value: Any = "23.1042", *, ago_s: float = 0, **more: Any) -> dict[str, Any]:
    return {"seq": seq, "clock": moment(ago_s), "value": value, "unit": "°C", **more}


@pytest.fixture
def sender(laboratory: Laboratory) -> Sender:
    device, token = devices.make_device(laboratory.bench, "probe 7", by=laboratory.coordinator)
    return Sender(device, token)


@pytest.fixture
def listening(laboratory: Laboratory, sender: Sender) -> Run:
    """A run opened a minute ago that takes the device's readings."""
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    Run.objects.filter(pk=run.pk).update(opened_at=timezone.now() - timedelta(seconds=60))
    run.refresh_from_db()
    return devices.listen_to_device(run, sender.device, by=laboratory.group)

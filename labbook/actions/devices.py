"""Devices' tokens, and which run listens to which device."""

from __future__ import annotations

import secrets

from django.db import transaction

from .. import clock
from ..access import require
from ..lookups.devices import UNFINISHED, device_heard_lately, devices_in_use
from ..models import Account, Bench, Device, Run
from ..problems import check_length, refuse
from .benches import hold_bench
from .decisions import hold

LONGEST_NAME = 60


@transaction.atomic
def make_device(bench: Bench, name: str, *, by: Account) -> tuple[Device, str]:
    """A device of a bench and its token, which is not to be had again: its digest is kept."""
    require(by, "keep devices")
    bench, name = hold_bench(bench), name.strip()
    if not name:
        raise refuse("name", "Say which device it is, as on its label.", "name")
    check_length(name, LONGEST_NAME, "name")
    if devices_in_use(bench).filter(name=name).exists():
        sentence = (
            f"{bench} has a device “{name}” already. Give another name, or end that one’s token."
        )
        raise refuse("name", sentence.replace("bench", "Bench", 1), "name")
    token = secrets.token_urlsafe(32)
    device = Device.objects.create(
        bench=bench, name=name, token_sha256=Device.digest(token), token_end=token[-4:],
        made_at=clock.now(), made_by=by,
    )  # fmt: skip
    return device, token


@transaction.atomic
def revoke_device(device: Device, *, by: Account) -> Device:
    """End a token for good. What the device sent stays; runs stop listening to it."""
    require(by, "keep devices")
    device = Device.objects.select_for_update().get(pk=device.pk)
    if device.is_revoked:
        raise refuse("revoked", f"The token of {device} was ended before.")
    device.revoked_at, device.revoked_by = clock.now(), by
    device.save(update_fields=["revoked_at", "revoked_by"])
    Run.objects.filter(listens_to=device, state__in=UNFINISHED).update(listens_to=None)
    return device


@transaction.atomic
def listen_to_device(run: Run, device: Device, *, by: Account) -> Run:
    """Take the readings of a device of the run's bench, from now on; no other run has them then."""
    require(by, "fill in sheet", run)
    run = hold(run)
    if run.is_finished:
        raise refuse("finished", f"{run} is {run.state}; no readings can be added.")
    if device.is_revoked or device.bench_id != run.bench_id:
        raise refuse("device", f"{device} has no token for {run.bench} now.", "device")
    _listen(run, device)
    return run


def listen_if_heard(run: Run) -> None:
    """A run that is opened while its bench's device is heard takes its readings at once."""
    device = device_heard_lately(run.bench)
    if device is not None:
        _listen(run, device)


def _listen(run: Run, device: Device) -> None:
    others = Run.objects.filter(listens_to=device, state__in=UNFINISHED).exclude(pk=run.pk)
    others.update(listens_to=None)
    run.listens_to = device
    run.save(update_fields=["listens_to"])


@transaction.atomic
def take_over_by_typing(run: Run, *, by: Account) -> Run:
    """From now on readings are typed; what the device sends is left to it."""
    require(by, "fill in sheet", run)
    run = hold(run)
    run.listens_to = None
    run.save(update_fields=["listens_to"])
    return run

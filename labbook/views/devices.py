"""Devices: making and ending tokens, a run's listening, and the curve that grows by itself."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from ..access import require
from ..actions import devices as actions
from ..lookups.benches import visible_benches
from ..lookups.devices import (
    all_devices,
    clock_words,
    devices_in_use,
    listening_of,
    newer_readings,
    when_heard,
)
from ..models import Device, Run
from ..parts import page
from ..problems import Refused
from ..requests import SignedIn
from .runs import run_or_404


def devices(request: SignedIn) -> HttpResponse:
    """Every device with its token's end; a new token is shown in the answer and never again."""
    require(request.user, "keep devices")
    if request.method != "POST":
        return page(request, "devices/list.html", _list_context(request))
    bench = get_object_or_404(visible_benches(request.user), code=request.POST.get("bench", ""))
    try:
        device, token = actions.make_device(bench, request.POST.get("name", ""), by=request.user)
    except Refused as refused:
        context = _list_context(request) | {"refused": str(refused), "sent": request.POST}
        return page(request, "devices/list.html", context, status=422)
    context = {
        "device": device,
        "token": token,
        "server": request.build_absolute_uri("/").rstrip("/"),
        "address": request.build_absolute_uri(reverse("api:send_readings")),
    }
    return page(request, "devices/made.html", context)


def _list_context(request: SignedIn) -> dict[str, Any]:
    rows = [(device, when_heard(device), clock_words(device)) for device in all_devices()]
    return {
        "in_use": [row for row in rows if not row[0].is_revoked],
        "ended": [row for row in rows if row[0].is_revoked],
        "benches": visible_benches(request.user),
    }


@require_POST
def revoke_device(request: SignedIn, pk: int) -> HttpResponse:
    require(request.user, "keep devices")
    device = actions.revoke_device(get_object_or_404(Device, pk=pk), by=request.user)
    messages.success(request, f"The token of {device} is ended. What it sent stays.")
    return redirect("devices")


def device_context(run: Run) -> dict[str, Any]:
    """What the page of a run's readings shows of devices; nothing once the run is finished."""
    if run.is_finished:
        return {}
    return {
        "live": {"state": run.state, "struck": run.strikes.count()},
        "listening": listening_of(run),
        "devices": [(device, when_heard(device)) for device in devices_in_use(run.bench)],
    }


@require_POST
def listen_to_device(request: SignedIn, pk: int) -> HttpResponse:
    run = run_or_404(request, pk)
    sent = request.POST.get("device", "")
    device = get_object_or_404(run.bench.devices, pk=sent if sent.isdecimal() else None)
    actions.listen_to_device(run, device, by=request.user)
    messages.success(request, f"Readings now come from {device.name}.")
    return redirect("run_readings", run.pk)


@require_POST
def take_over_by_typing(request: SignedIn, pk: int) -> HttpResponse:
    run = actions.take_over_by_typing(run_or_404(request, pk), by=request.user)
    messages.success(request, "Type the readings now; nothing is taken from the device.")
    return redirect("run_readings", run.pk)


def newer(request: SignedIn, pk: int, number: int) -> HttpResponse:
    """The readings after a number, and how long ago the device was heard; asked every 2 s."""
    found = newer_readings(request.user, pk, number)
    if found is None:
        raise Http404
    return JsonResponse(asdict(found))

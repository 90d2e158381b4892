"""Who asks: a device, by the token of its bench."""

from __future__ import annotations

from django.http import HttpRequest
from ninja.security import HttpBearer

from ..lookups.devices import device_with
from ..models import Device


class DeviceToken(HttpBearer):
    """Says no to a token that was ended, and writes none to a log, whatever is sent."""

    def __call__(self, request: HttpRequest) -> Device | None:
        scheme, _, token = request.headers.get(self.header, "").partition(" ")
        return self.authenticate(request, token) if scheme.lower() == "bearer" else None

    def authenticate(self, request: HttpRequest, token: str) -> Device | None:
        return device_with(token.strip())


class FromDevice(HttpRequest):
    """A request that carried a token in force."""

    auth: Device

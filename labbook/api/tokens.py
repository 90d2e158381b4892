"""Who asks: a device, by the token of its bench, or a program, by that of a person's account."""

from __future__ import annotations

from django.http import HttpRequest
from ninja.security import HttpBearer

from ..actions.reading_tokens import note_use
from ..lookups.devices import device_with
from ..lookups.reading_tokens import reading_token_with
from ..models import Device, ReadingToken


class BearerToken(HttpBearer):
    """Says no to a token that was ended, and writes none to a log, whatever is sent."""

    def __call__(self, request: HttpRequest) -> Device | ReadingToken | None:
        scheme, _, token = request.headers.get(self.header, "").partition(" ")
        if scheme.lower() != "bearer":
            return None
        found: Device | ReadingToken | None = self.authenticate(request, token.strip())
        return found


class DeviceToken(BearerToken):
    """The token of a bench's device, to send readings."""

    def authenticate(self, request: HttpRequest, token: str) -> Device | None:
        return device_with(token)


class ProgramToken(BearerToken):
    """The token of a program that reads, with the rights of the account that made it."""

    def authenticate(self, request: HttpRequest, token: str) -> ReadingToken | None:
        found = reading_token_with(token)
        if found is not None:
            note_use(found)
        return found


class FromDevice(HttpRequest):
    """A request that carried a device's token in force."""

    auth: Device


class FromProgram(HttpRequest):
    """A request that carried a program's token in force."""

    auth: ReadingToken

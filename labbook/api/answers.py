"""What all answers have in common: JSON, never kept, and a sentence where something was refused."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any

from django.core.exceptions import PermissionDenied, RequestDataTooBig
from django.http import HttpRequest, HttpResponse
from ninja import NinjaAPI, Schema
from ninja.errors import AuthenticationError, HttpError, ValidationError
from ninja.parser import Parser
from pydantic import Field

from ..problems import Refused

NO_TOKEN = "No device has this token now. Send “Authorization: Bearer <token>” with one in force."
NOT_JSON = 'The body is not a JSON object; expected one such as {"sent_at": …, "readings": […]}.'
LARGEST_BODY = 1024 * 1024
TOO_LARGE = "The body is larger than 1 MB. Send at most 1000 readings at once."


class Fault(Schema):
    """One thing that stood against it."""

    where: str = Field(description="The part of what was sent, such as readings.3.")
    why: str = Field(description="What was seen and what was expected.")


class Refusal(Schema):
    """Why nothing was done."""

    why: str = Field(description="In a sentence, for people.")
    faults: list[Fault] = Field([], description="The parts at fault, where they can be named.")


class TooLarge(Exception):
    """The body is larger than any post needs to be."""


class ExactParser(Parser):
    """JSON whose decimals keep the digits they were sent with.

    NaN and Infinity, which JSON does not have but programs write, are read: the one reading that
    holds them is left with its reason, and the others are kept.
    """

    def parse_body(self, request: HttpRequest) -> dict[str, Any]:
        if len(request.body) > LARGEST_BODY:
            raise TooLarge
        body = json.loads(request.body, parse_float=Decimal)
        if not isinstance(body, dict):
            raise ValueError(NOT_JSON)
        return body


class RecordAPI(NinjaAPI):
    """The API with its refusals in words; no answer is kept by a cache."""

    def __init__(self, **described: Any) -> None:
        super().__init__(parser=ExactParser(), **described)
        self.add_exception_handler(AuthenticationError, self._without_token)
        self.add_exception_handler(PermissionDenied, self._without_token)
        self.add_exception_handler(HttpError, self._unread)
        self.add_exception_handler(RequestDataTooBig, self._too_large)
        self.add_exception_handler(ValidationError, self._not_as_expected)
        self.add_exception_handler(Refused, self._refused)

    def create_response(self, *args: Any, **kwargs: Any) -> HttpResponse:
        response = super().create_response(*args, **kwargs)
        response["Cache-Control"] = "no-store"
        return response

    def _say(self, request: HttpRequest, status: int, why: str, *faults: Fault) -> HttpResponse:
        said = Refusal(why=why, faults=list(faults))
        return self.create_response(request, said.model_dump(), status=status)

    def _without_token(self, request: HttpRequest, error: Any) -> HttpResponse:
        response = self._say(request, 401, NO_TOKEN)
        response["WWW-Authenticate"] = "Bearer"
        return response

    def _unread(self, request: HttpRequest, error: Any) -> HttpResponse:
        if isinstance(error.__cause__, TooLarge):
            return self._too_large(request, error)
        status = 422 if error.status_code == 400 else error.status_code
        return self._say(request, status, NOT_JSON if status == 422 else error.message)

    def _too_large(self, request: HttpRequest, error: Any) -> HttpResponse:
        return self._say(request, 413, TOO_LARGE)

    def _not_as_expected(self, request: HttpRequest, error: Any) -> HttpResponse:
        faults = [
            Fault(where=".".join(map(str, fault["loc"][2:])) or "body", why=fault["msg"])
            for fault in error.errors
        ]
        return self._say(request, 422, "What was sent is not what was expected.", *faults)

    def _refused(self, request: HttpRequest, error: Any) -> HttpResponse:
        return self._say(request, 409, str(error))

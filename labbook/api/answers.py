"""What all answers have in common: JSON, never kept, and a sentence where something was refused."""

from __future__ import annotations

import json
from decimal import Decimal
from http import HTTPStatus
from typing import Any, cast

from django.core.exceptions import PermissionDenied, RequestDataTooBig
from django.http import Http404, HttpRequest, HttpResponse
from django.utils.cache import get_conditional_response, set_response_etag
from ninja import NinjaAPI, Schema
from ninja.errors import AuthenticationError, HttpError, ValidationError
from ninja.openapi.schema import OpenAPISchema
from ninja.parser import Parser
from pydantic import Field

from ..actions.sign_ins import note_wrong_token
from ..lookups.sign_ins import WRONG_TOKENS_WITHIN
from ..problems import Refused
from ..requests import address_of

NO_TOKEN = "This token is not in force here. Send “Authorization: Bearer <token>” with one that is."
TOO_MANY = "Too many wrong tokens came from this address. Send a token that is in force, or wait."
NOT_JSON = 'The body is not a JSON object; expected one such as {"sent_at": …, "readings": […]}.'
NOT_THERE = "There is no such thing, or not within the reach of this token's account."
LARGEST_BODY = 1024 * 1024
TOO_LARGE = "The body is larger than 1 MB. Send at most 1000 readings at once."


PROBLEM = "application/problem+json"
JSON = "application/json"


class Fault(Schema):
    """One thing that stood against it."""

    where: str = Field(description="The part of what was sent, such as readings.3.")
    why: str = Field(description="What was seen and what was expected.")


class Refusal(Schema):
    """Why nothing was done: a problem detail by RFC 9457, with two members more."""

    type: str = Field("about:blank", description="No other kinds than those of HTTP.")
    title: str = Field("", description="The status in words.")
    status: int = Field(0, description="The HTTP status.")
    detail: str = Field("", description="In a sentence, for people.")
    why: str = Field(description="The same sentence.")
    faults: list[Fault] = Field([], description="The parts at fault, where they can be named.")


def refusal(status: int, why: str, *faults: Fault) -> Refusal:
    title = HTTPStatus(status).phrase
    return Refusal(
        type="about:blank", title=title, status=status, detail=why, why=why, faults=list(faults)
    )


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
    """The API with its refusals in words; no answer is kept by a shared cache."""

    def __init__(self, **described: Any) -> None:
        super().__init__(parser=ExactParser(), **described)
        self.add_exception_handler(AuthenticationError, self._without_token)
        self.add_exception_handler(PermissionDenied, self._without_token)
        self.add_exception_handler(HttpError, self._unread)
        self.add_exception_handler(Http404, self._not_there)
        self.add_exception_handler(RequestDataTooBig, self._too_large)
        self.add_exception_handler(ValidationError, self._not_as_expected)
        self.add_exception_handler(Refused, self._refused)

    def create_response(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        response = super().create_response(request, *args, **kwargs)
        if response.status_code >= 400:
            response["Content-Type"] = PROBLEM
        if response.status_code != 200 or request.method not in ("GET", "HEAD"):
            response["Cache-Control"] = "no-store"
            return response
        return self._unless_known(request, response)

    def _unless_known(self, request: HttpRequest, response: HttpResponse) -> HttpResponse:
        """The answer, or 304 for whoever has the same already, by its ETag."""
        response["Cache-Control"] = "private, no-cache"
        response["Vary"] = "Authorization"
        set_response_etag(response)
        known = get_conditional_response(request, etag=response["ETag"], response=response)
        return cast(HttpResponse, known)

    def get_openapi_schema(self, **kwargs: Any) -> OpenAPISchema:
        """The document; refusals come as problem details."""
        document = super().get_openapi_schema(**kwargs)
        for methods in document["paths"].values():
            for described in methods.values():
                for status, answer in described["responses"].items():
                    content = answer.get("content", {})
                    if int(status) >= 400 and JSON in content:
                        content[PROBLEM] = content.pop(JSON)
        return document

    def _say(self, request: HttpRequest, status: int, why: str, *faults: Fault) -> HttpResponse:
        said = refusal(status, why, *faults)
        return self.create_response(request, said.model_dump(), status=status)

    def _without_token(self, request: HttpRequest, error: Any) -> HttpResponse:
        is_sent = bool(request.headers.get("Authorization"))
        if is_sent and note_wrong_token(address_of(request)):
            response = self._say(request, 429, TOO_MANY)
            response["Retry-After"] = str(int(WRONG_TOKENS_WITHIN.total_seconds()))
            return response
        response = self._say(request, 401, NO_TOKEN)
        response["WWW-Authenticate"] = "Bearer"
        return response

    def _unread(self, request: HttpRequest, error: Any) -> HttpResponse:
        if isinstance(error.__cause__, TooLarge):
            return self._too_large(request, error)
        status = 422 if error.status_code == 400 else error.status_code
        return self._say(request, status, NOT_JSON if status == 422 else error.message)

    def _not_there(self, request: HttpRequest, error: Any) -> HttpResponse:
        return self._say(request, 404, NOT_THERE)

    def _too_large(self, request: HttpRequest, error: Any) -> HttpResponse:
        return self._say(request, 413, TOO_LARGE)

    def _not_as_expected(self, request: HttpRequest, error: Any) -> HttpResponse:
        faults = [Fault(where=_place(*fault["loc"]), why=fault["msg"]) for fault in error.errors]
        return self._say(request, 422, "What was sent is not what was expected.", *faults)

    def _refused(self, request: HttpRequest, error: Any) -> HttpResponse:
        return self._say(request, 409, str(error))


def _place(of: str, *names: str | int) -> str:
    """The part of a body, without the name it has in the code; or the parameter."""
    inner = names[1:] if of == "body" else names[-1:]
    return ".".join(map(str, inner)) or of

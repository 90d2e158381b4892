"""What is answered where the record itself failed: its disk is full, it is held, or it is gone."""

from __future__ import annotations

import errno
import sqlite3
import sys
from collections.abc import Iterator
from dataclasses import dataclass

import psycopg
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.template.loader import render_to_string

from ..api.answers import PROBLEM, refusal
from ..requests import what_was_sent

RETRY_AFTER_S = 5
API = "/api/"


@dataclass(frozen=True)
class Fault:
    """Which answer it is, and what is said: what was seen, and what to do."""

    status: int
    title: str
    sentence: str
    severity: str = "B"


FULL = Fault(
    507,
    "The server’s disk is full",
    "The disk of this record’s server is full. Everything saved before is safe. Tell the person "
    "who looks after the server.",
)
HELD = Fault(
    503,
    "The record is busy",
    "Something else held this record for too long. Try again in a few seconds; if this comes "
    "back, tell the person who looks after the server.",
)
GONE = Fault(
    503,
    "The record cannot be reached",
    "This record’s database does not answer just now. Everything saved before is safe. Try again "
    "in a few seconds; if this comes back, tell the person who looks after the server.",
)
UNKNOWN = Fault(
    500,
    "Something went wrong on the server",
    "Nothing you saved before is lost. Open the page again; if this comes back, tell the person "
    "who looks after the server what you did and when.",
)
NOT_KEPT = Fault(0, "", "What you just sent was not kept: send it again.", severity="N")

HELD_CODES = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
GONE_CODES = (
    sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_PROTOCOL,
    sqlite3.SQLITE_READONLY,
)
# Classes and codes of PostgreSQL's appendix A, “Error Codes”.
HELD_STATES = ("55P03", "40", "57014")
FULL_STATES = ("53100",)
GONE_STATES = ("08", "53", "57P", "58")


def server_error(request: HttpRequest) -> HttpResponse:
    """Say what failed as a page, as a part for htmx, or as data; it needs no database itself."""
    fault = fault_of(sys.exc_info()[1])
    if request.path.startswith(API):
        said = refusal(fault.status, fault.sentence).model_dump()
        response: HttpResponse = JsonResponse(said, content_type=PROBLEM)
    elif request.headers.get("Accept", "") == "application/json":
        response = JsonResponse({"sentence": fault.sentence})
    else:
        response = _in_words(request, fault)
    response.status_code = fault.status
    response["Cache-Control"] = "no-store"
    if fault.status == HELD.status:
        response["Retry-After"] = str(RETRY_AFTER_S)
    return response


def _in_words(request: HttpRequest, fault: Fault) -> HttpResponse:
    """The page, or its part for htmx, with what was sent, so that nothing typed is lost."""
    is_part = request.headers.get("HX-Request") == "true"
    problems = [fault, NOT_KEPT] if request.method == "POST" else [fault]
    context = {"fault": fault, "problems": problems, "sent": what_was_sent(request)}
    template = "500.html#words" if is_part else "500.html"
    response = HttpResponse(render_to_string(template, context))
    response["HX-Retarget"], response["HX-Reswap"] = "#messages", "innerHTML"
    return response


def fault_of(error: BaseException | None) -> Fault:
    """Which fault is at the bottom of an exception."""
    for cause in _causes(error):
        found = _fault_in(cause)
        if found is not None:
            return found
    return UNKNOWN


def _causes(error: BaseException | None) -> Iterator[BaseException]:
    seen: set[int] = set()
    while error is not None and id(error) not in seen:
        seen.add(id(error))
        yield error
        error = error.__cause__ or error.__context__


def _fault_in(error: BaseException) -> Fault | None:
    if isinstance(error, sqlite3.Error):
        return _of_sqlite(getattr(error, "sqlite_errorcode", 0) & 0xFF)
    if isinstance(error, psycopg.OperationalError):
        return _of_postgresql(error.sqlstate)
    if isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT):
        return FULL
    return None


def _of_sqlite(code: int) -> Fault | None:
    """By the primary result code, the lowest byte of the extended one."""
    if code == sqlite3.SQLITE_FULL:
        return FULL
    if code in HELD_CODES:
        return HELD
    return GONE if code in GONE_CODES else None


def _of_postgresql(state: str | None) -> Fault | None:
    """By SQLSTATE; without one the connection itself failed."""
    if state is None:
        return GONE
    for states, fault in ((FULL_STATES, FULL), (HELD_STATES, HELD), (GONE_STATES, GONE)):
        if state.startswith(states):
            return fault
    return None

"""An action that was refused becomes a page, or a part of one, with every reason."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import DataError
from django.http import Http404, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import render
from django.urls import Resolver404, resolve
from django.utils.http import url_has_allowed_host_and_scheme

from .access import require
from .addresses import ADDRESSES
from .problems import Refused, refuse
from .requests import SignedIn, what_was_sent


class SameAccountMiddleware:
    """A page speaks for the account it was made for: sent under another sign-in, it is refused.

    So what one group typed is never recorded as another's on a shared PC, nor lost in the
    sign-in page that a script would be sent on to.
    """

    def __init__(self, get_response: Callable[[SignedIn], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: SignedIn) -> HttpResponse:
        made_for = request.headers.get("X-Account", "")
        if made_for and made_for != str(request.user.pk):
            return _made_for_another(request)
        return self.get_response(request)


def _made_for_another(request: SignedIn) -> HttpResponse:
    if request.user.is_authenticated:
        return HttpResponse("This page was opened under another sign-in.", status=403)
    response = HttpResponse("You are signed out.", status=403)
    response["X-Signed-Out"] = "1"
    return response


class RightsMiddleware:
    """Ask the table before any view: which methods an address serves, and whose role may use it.

    Whose things they are the view asks, once it has looked them up.
    """

    def __init__(self, get_response: Callable[[SignedIn], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: SignedIn) -> HttpResponse:
        return self.get_response(request)

    def process_view(
        self, request: SignedIn, view: object, args: list[Any], given: dict[str, Any]
    ) -> HttpResponse | None:
        name = request.resolver_match.view_name if request.resolver_match else ""
        address = ADDRESSES.get(name)
        if address is None:
            raise PermissionDenied(f"The address “{name}” has no row in labbook/addresses.py.")
        if request.method not in address.methods:
            return HttpResponseNotAllowed(address.methods)
        deed = address.deed(request.method, given)
        if not deed:
            raise Http404
        if not address.is_public:
            require(request.user, deed)
        return None


class RefusalMiddleware:
    def __init__(self, get_response: Callable[[SignedIn], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: SignedIn) -> HttpResponse:
        response = self.get_response(request)
        if request.method == "GET" and response.status_code == 405 and not response.content:
            response = _say_that_it_takes_forms(request, response["Allow"])
        if request.user.is_authenticated and not response.has_header("Cache-Control"):
            # Going back must show the record as it is, and a shared PC must keep no copy.
            response["Cache-Control"] = "no-store"
        return response

    def process_exception(self, request: SignedIn, exception: Exception) -> HttpResponse | None:
        """Say what stood against it, and give back what was sent: nothing typed is lost."""
        if isinstance(exception, DataError) and _holds_zero_byte(request):
            exception = refuse("zero byte", "There is a zero byte in what was sent: type it again.")
        if not isinstance(exception, Refused):
            return None
        context = {
            "problems": exception.problems,
            "sent": what_was_sent(request),
            "back": _came_from(request),
        }
        if not request.htmx:
            return render(request, "refused.html", context, status=409)
        response = render(request, "refused.html#problems", context, status=409)
        response["HX-Retarget"] = "#messages"
        response["HX-Reswap"] = "innerHTML"
        return response


def _came_from(request: SignedIn) -> str:
    """The page of this record a form was sent from; the first page when none is named."""
    page = request.headers.get("Referer", "")
    is_ours = url_has_allowed_host_and_scheme(page, {request.get_host()})
    return page if is_ours else "/"


def _holds_zero_byte(request: SignedIn) -> bool:
    """What PostgreSQL cannot even be asked for."""
    return any(
        "\0" in str(value) for sent in (request.GET, request.POST) for value in sent.values()
    )


def _say_that_it_takes_forms(request: SignedIn, allowed: str) -> HttpResponse:
    """A page instead of a bare 405, as when a sign-in came between a button and its answer."""
    response = render(request, "405.html", {"belongs_to": page_above(request.path)}, status=405)
    response["Allow"] = allowed
    return response


def page_above(path: str) -> str:
    """The nearest page above an address, about the same record; the first page when none is."""
    record = resolve(path).kwargs
    while path != "/":
        path = path.rstrip("/").rpartition("/")[0] + "/"
        try:
            found = resolve(path)
        except Resolver404:
            continue
        if found.kwargs.items() <= record.items():
            return path
    return path

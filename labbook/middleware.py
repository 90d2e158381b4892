"""An action that was refused becomes a page, or a part of one, with every reason."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import Resolver404, resolve

from .problems import Refused
from .requests import SignedIn

NOT_SHOWN = {"csrfmiddlewaretoken", "seen", "password"}


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
            return HttpResponse("This page was opened under another sign-in.", status=403)
        return self.get_response(request)


class RefusalMiddleware:
    def __init__(self, get_response: Callable[[SignedIn], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: SignedIn) -> HttpResponse:
        response = self.get_response(request)
        if response.status_code == 405 and not response.content:
            response = _say_that_it_takes_forms(request, response["Allow"])
        if request.user.is_authenticated and not response.has_header("Cache-Control"):
            # Going back must show the record as it is, and a shared PC must keep no copy.
            response["Cache-Control"] = "no-store"
        return response

    def process_exception(self, request: SignedIn, exception: Exception) -> HttpResponse | None:
        """Say what stood against it, and give back what was sent: nothing typed is lost."""
        if not isinstance(exception, Refused):
            return None
        sent = [(key, str(value)) for key, value in request.POST.items() if key not in NOT_SHOWN]
        context = {
            "problems": exception.problems,
            "sent": [(key.replace("_", " "), value) for key, value in sent if value.strip()],
            "back": request.META.get("HTTP_REFERER", "/"),
        }
        if not request.htmx:
            return render(request, "refused.html", context, status=409)
        response = render(request, "refused.html#problems", context, status=409)
        response["HX-Retarget"] = "#messages"
        response["HX-Reswap"] = "innerHTML"
        return response


def _say_that_it_takes_forms(request: SignedIn, allowed: str) -> HttpResponse:
    """A page instead of a bare 405, as when a sign-in came between a button and its answer."""
    response = render(request, "405.html", {"belongs_to": _page_above(request.path)}, status=405)
    response["Allow"] = allowed
    return response


def _page_above(path: str) -> str:
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

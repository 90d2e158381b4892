"""An action that was refused becomes a page, or a part of one, with every reason."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpResponse
from django.shortcuts import render

from .problems import Refused
from .requests import SignedIn

NOT_SHOWN = {"csrfmiddlewaretoken", "seen", "password"}


class RefusalMiddleware:
    def __init__(self, get_response: Callable[[SignedIn], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: SignedIn) -> HttpResponse:
        response = self.get_response(request)
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

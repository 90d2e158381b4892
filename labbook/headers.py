"""What every answer tells the browser beside the policies that Django and django-csp send."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponseBase

SENT_WITH_ALL = {
    # Nothing here looks, listens, or asks where somebody is.
    "Permissions-Policy": "camera=(), microphone=(), geolocation=(), usb=(), serial=(), "
    "payment=(), display-capture=()",
    "Cross-Origin-Resource-Policy": "same-origin",
}


class HeadersMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        for name, value in SENT_WITH_ALL.items():
            response.headers.setdefault(name, value)
        return response

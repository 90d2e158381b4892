"""The requests views get: someone is signed in, and htmx may have sent them."""

from __future__ import annotations

from ipaddress import ip_address
from typing import TYPE_CHECKING

from django.conf import settings
from django.http import HttpRequest

if TYPE_CHECKING:
    from django_htmx.middleware import HtmxDetails

    from .models import Account


class SignedIn(HttpRequest):
    """What the middleware makes of a request; the sign-in is required on every page but one."""

    user: Account
    htmx: HtmxDetails


# In place of the address where there is none, as behind a socket in the file system.
NOWHERE = "0.0.0.0"
NOT_SHOWN = {"csrfmiddlewaretoken", "seen", "shown", "password"}


def what_was_sent(request: HttpRequest) -> list[tuple[str, str]]:
    """The fields of a form by their names in words, to be given back where it was refused."""
    return [
        (key.replace("_", " "), str(value))
        for key, values in request.POST.lists()
        for value in values
        if str(value).strip() and key not in NOT_SHOWN and not key.startswith("seen_")
    ]


def address_of(request: HttpRequest) -> str:
    """Where a request comes from: behind the proxy that ends TLS, what that proxy wrote last."""
    here = str(request.META.get("REMOTE_ADDR", ""))
    if settings.BEHIND_TLS:
        here = request.headers.get("X-Forwarded-For", here).rpartition(",")[2].strip()
    try:
        return str(ip_address(here))
    except ValueError:
        return NOWHERE

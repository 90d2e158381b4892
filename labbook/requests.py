"""The requests views get: someone is signed in, and htmx may have sent them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.http import HttpRequest

if TYPE_CHECKING:
    from django_htmx.middleware import HtmxDetails

    from .models import Account


class SignedIn(HttpRequest):
    """What the middleware makes of a request; the sign-in is required on every page but one."""

    user: Account
    htmx: HtmxDetails

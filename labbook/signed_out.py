"""Sign-ins that end by themselves, and what becomes of a request that comes after the end.

Staff are signed out after some minutes without use; a group after some hours, and never while a
run of it is open. A request that a page makes by itself (``BY_ITSELF``) is no use of it.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.conf import settings
from django.contrib.auth import logout
from django.http import HttpResponse
from django.shortcuts import render, resolve_url
from django.utils.http import urlencode

from . import clock
from .lookups.runs import has_open_run
from .middleware import page_above
from .requests import SignedIn, what_was_sent
from .shared_pc import also_here

BY_ITSELF = "X-By-Itself"
GROUPS_IDLE = timedelta(hours=12)
# A use is not written down again before this has passed: a session is a row in the database.
NOTED_EVERY = timedelta(minutes=1)
LAST_USED, ENDED = "last_used", "ended"


class IdleMiddleware:
    """End a sign-in that was not used for long, before anything is done with it."""

    def __init__(self, get_response: Callable[[SignedIn], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: SignedIn) -> HttpResponse:
        if request.user.is_authenticated:
            if is_over(request):
                logout(request)
                request.session[ENDED] = "idle"
            elif BY_ITSELF not in request.headers:
                note_use(request)
        return self.get_response(request)


def unused_for(request: SignedIn) -> timedelta:
    """Since the last use that was noted, or since the account signed in."""
    began = request.user.last_login
    last = request.session.get(LAST_USED, began.timestamp() if began else 0.0)
    return timedelta(seconds=clock.now().timestamp() - last)


def is_over(request: SignedIn) -> bool:
    unused = unused_for(request)
    if request.user.is_staff_member:
        return unused > timedelta(minutes=settings.LABBOOK_STAFF_IDLE_MINUTES) + NOTED_EVERY
    return unused > GROUPS_IDLE and not has_open_run([request.user, *also_here(request)])


def note_use(request: SignedIn) -> None:
    if unused_for(request) > NOTED_EVERY:
        request.session[LAST_USED] = clock.now().timestamp()


class TooLateMiddleware:
    """A form that was sent after the end comes back with what was typed and the way to sign in."""

    def __init__(self, get_response: Callable[[SignedIn], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: SignedIn) -> HttpResponse:
        return self.get_response(request)

    def process_view(
        self, request: SignedIn, view: object, args: list[Any], given: dict[str, Any]
    ) -> HttpResponse | None:
        is_late = not request.user.is_authenticated and getattr(view, "login_required", True)
        sent = what_was_sent(request) if is_late and request.method == "POST" else []
        if not sent:
            return None
        back = urlencode({"next": page_above(request.path)})
        context = {"sent": sent, "sign_in": f"{resolve_url(settings.LOGIN_URL)}?{back}"}
        return render(request, "signed_out.html", context, status=403)

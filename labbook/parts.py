"""Sending a page, or one of its parts when htmx asks for it; and what every page carries."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.cache import patch_vary_headers

from .access import may
from .lookups.practice import is_of_practice
from .requests import SignedIn
from .shared_pc import also_here


def page(
    request: SignedIn,
    template: str,
    context: dict[str, Any] | None = None,
    *,
    part: str = "",
    status: int = 200,
) -> HttpResponse:
    """The whole template, or its named part when htmx asked and a part is named."""
    if part and request.htmx:
        template = f"{template}#{part}"
    context = context or {}
    practice = {"is_practice_term": is_about_practice(request, context)}
    response = render(request, template, practice | context, status=status)
    patch_vary_headers(response, ["HX-Request"])
    return response


ABOUT = ("run", "standardization", "section", "group", "file")


def is_about_practice(request: SignedIn, context: dict[str, Any]) -> bool:
    """Whether a page is a practice term's: by its reader’s group, or by what it is about."""
    account = request.user
    own = account.group if account.is_authenticated else None
    things = (context.get(name) for name in ABOUT)
    return is_of_practice(own) or any(is_of_practice(one) for one in things)


MENU = (
    ("open run", "afternoon", "This afternoon"),
    ("look after section", "sections", "This afternoon"),
    ("see review desk", "review_desk", "Review desk"),
    ("see benches", "benches", "Benches"),
    ("see review desk", "runs", "Runs"),
    ("see sample identity", "samples", "Samples"),
    ("set up", "setup", "Set-up"),
)
BELOW = {
    "review_desk": ("marking",),
    "setup": ("terms", "sign_ins", "reading_tokens", "status"),
}
"""Pages of an entry of the menu whose addresses do not begin with its own."""


def navigation(request: SignedIn) -> dict[str, Any]:
    """The menu of what this account may open, and who is signed in.

    A request refused before anybody was looked up, for its host say, has no account at all.
    """
    account = getattr(request, "user", None)
    if account is None or not account.is_authenticated:
        return {"nav": []}
    return {
        "nav": [
            {"url": reverse(name), "words": words, "current": _is_in(name, request.path)}
            for deed, name, words in MENU
            if may(account, deed, account.group)
        ],
        "signed_in_as": str(account),
        "part_of": _part_of(account),
        "also_here": also_here(request),
        "idle_minutes": settings.LABBOOK_STAFF_IDLE_MINUTES,
    }


def _is_in(entry: str, here: str) -> bool:
    return any(here.startswith(reverse(name)) for name in (entry, *BELOW.get(entry, ())))


def _part_of(account: Any) -> str:
    return str(account.group.section) if account.group else account.get_role_display()

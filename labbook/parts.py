"""Sending a page, or one of its parts when htmx asks for it; and what every page carries."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.cache import patch_vary_headers

from .access import may
from .requests import SignedIn


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
    response = render(request, template, context, status=status)
    patch_vary_headers(response, ["HX-Request"])
    return response


MENU = (
    ("open run", "afternoon", "This afternoon"),
    ("see review desk", "review_desk", "Review desk"),
    ("see benches", "benches", "Benches"),
    ("see review desk", "runs", "Runs"),
    ("see sample identity", "samples", "Samples"),
    ("set up", "setup", "Set-up"),
)


def navigation(request: SignedIn) -> dict[str, Any]:
    """The menu of what this account may open, and who is signed in."""
    account = request.user
    if not account.is_authenticated:
        return {"nav": []}
    entries = [
        (reverse(name), words) for deed, name, words in MENU if may(account, deed, account.group)
    ]
    here = request.path
    return {
        "nav": [{"url": u, "words": words, "current": here.startswith(u)} for u, words in entries],
        "signed_in_as": str(account),
        "part_of": _part_of(account),
    }


def _part_of(account: Any) -> str:
    return str(account.group.section) if account.group else account.get_role_display()

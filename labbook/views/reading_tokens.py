"""Programs that read: making and ending their tokens."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from ..access import require
from ..actions import reading_tokens as actions
from ..lookups.reading_tokens import KEEPING, visible_tokens
from ..models import ReadingToken
from ..parts import page
from ..problems import Refused
from ..requests import SignedIn


@never_cache
def reading_tokens(request: SignedIn) -> HttpResponse:
    """The tokens one may end; a new one is shown in the answer and never again."""
    require(request.user, KEEPING)
    if request.method != "POST":
        return page(request, "open_data/tokens.html", _list_context(request))
    try:
        made, token = actions.make_reading_token(request.POST.get("name", ""), by=request.user)
    except Refused as refused:
        context = _list_context(request) | {"refused": str(refused), "sent": request.POST}
        return page(request, "open_data/tokens.html", context, status=422)
    address = request.build_absolute_uri(reverse("api:open_runs"))
    context = {"made": made, "token": token, "address": address}
    return page(request, "open_data/token_made.html", context)


def _list_context(request: SignedIn) -> dict[str, Any]:
    tokens = list(visible_tokens(request.user))
    return {
        "in_use": [token for token in tokens if not token.is_revoked],
        "ended": [token for token in tokens if token.is_revoked],
    }


@require_POST
def revoke_reading_token(request: SignedIn, pk: int) -> HttpResponse:
    require(request.user, KEEPING)
    token = get_object_or_404(ReadingToken, pk=pk)
    actions.revoke_reading_token(token, by=request.user)
    messages.success(request, f"The token {token} is ended.")
    return redirect("reading_tokens")

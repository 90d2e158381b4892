"""What in a term is alike and worth a look: made when asked for, kept nowhere."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.cache import never_cache

from reduction import likeness as levels

from ..access import require
from ..lookups.likeness import look_for_likeness
from ..lookups.term_compared import visible_terms
from ..parts import page
from ..requests import SignedIn
from .likeness_words import mentions_of, rarity


@never_cache
def likeness(request: SignedIn, pk: int) -> HttpResponse:
    require(request.user, "look for likeness")
    term = get_object_or_404(visible_terms(request.user, "look for likeness"), pk=pk)
    looked = "look" in request.GET
    found = look_for_likeness(term, request.user) if looked else None
    context = {
        "term": term,
        "found": found,
        "mentions": mentions_of(found) if found else [],
        "one_in": round(1 / levels.PER_TERM),
        "rarity": rarity(found) if found else "",
    }
    return page(request, "terms/alike.html", context, part="found")

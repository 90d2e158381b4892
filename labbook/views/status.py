"""How the record itself stands: for coordinators a page, for programs an answer."""

from __future__ import annotations

from dataclasses import asdict

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError
from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from ..access import may
from ..actions import upkeep
from ..lookups import status as lookup
from ..models import Upkeep
from ..parts import page
from ..requests import SignedIn

LATELY = 12
# What a page may take; a record that needs longer is verified by the command.
LONGEST_S = 20.0


@require_safe
def status(request: SignedIn) -> HttpResponse:
    found = lookup.status(request.user)
    took = lookup.verifying_takes_s()
    context = {
        "standings": found,
        "to_see_to": sum(one.state in (lookup.BAD, lookup.LOOK) for one in found),
        "takes_s": took,
        "may_verify_here": took is None or took < LONGEST_S,
        "lately": Upkeep.objects.all()[:LATELY],
    }
    return page(request, "status/page.html", context)


@require_POST
def verify_record(request: SignedIn) -> HttpResponse:
    found = upkeep.verify(by=request.user)
    if found.is_whole:
        messages.success(request, f"{found.links} rows of evidence, all as they were written.")
    else:
        first = found.breaks[0]
        messages.error(request, f"{first.where}: {first.sentence}")
    return redirect("status")


@never_cache
@login_not_required
@require_safe
def health(request: SignedIn) -> HttpResponse:
    """200 while the record can be worked with, 503 when not; no word of what is in it.

    With ``?full`` the status page's sentences, to coordinators. Not to the loopback: behind a
    proxy on the same machine everybody comes from there.
    """
    try:
        found = lookup.health()
    except DatabaseError:
        found = lookup.Health("fail", ["database"])
    answer = asdict(found)
    if "full" in request.GET and _may_see_all(request):
        answer["checks"] = [asdict(one) for one in lookup.status(request.user)]
    return JsonResponse(
        answer,
        status=503 if found.status == "fail" else 200,
        content_type="application/health+json",
    )


def _may_see_all(request: SignedIn) -> bool:
    return request.user.is_authenticated and may(request.user, "keep the record")

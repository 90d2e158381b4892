"""Where each role starts, and a group's afternoon."""

from django.http import HttpResponse
from django.shortcuts import redirect

from ..access import require
from ..lookups.marking import mark_given_to
from ..lookups.runs import afternoon_of
from ..models import Role
from ..parts import page
from ..problems import with_opening, with_opening_unknown
from ..requests import SignedIn

START = {
    Role.GROUP: "afternoon",
    Role.ASSISTANT: "review_desk",
    Role.COORDINATOR: "benches",
}


def home(request: SignedIn) -> HttpResponse:
    return redirect(START[Role(request.user.role)])


def afternoon(request: SignedIn) -> HttpResponse:
    """A group's own page: its bench, its runs, and what to do next."""
    require(request.user, "open run", request.user.group)
    today = afternoon_of(request.user)
    bench, group = today.group.bench, today.group
    return page(
        request,
        "afternoon/detail.html",
        {
            "today": today,
            "against_run": with_opening(bench, group) if bench else [],
            "given": mark_given_to(group),
            "against_unknown": with_opening_unknown(bench, group) if bench else [],
        },
    )

"""The working of a run: every step of its result written out, as a page and as data."""

from __future__ import annotations

from django.http import HttpResponse, JsonResponse

from ..exchange.workings import working_dict
from ..lookups.workings import working_of
from ..parts import page
from ..requests import SignedIn
from ..typesetting.corrections import CORRECTIONS
from ..typesetting.methods import METHODS
from ..typesetting.written_steps import written_parts
from .runs import run_or_404
from .steps import steps_of


def run_working(request: SignedIn, pk: int) -> HttpResponse:
    run = run_or_404(request, pk)
    working = working_of(run, request.user)
    context = {
        "run": run,
        "tab": "working",
        "steps": steps_of(run),
        "working": working,
        "parts": written_parts(working.parts),
        "method": METHODS.get(working.outputs.get("rise_used", {}).get("method"), ""),
        "left_out": [(CORRECTIONS[row["name"]], row) for row in working.left_out],
    }
    return page(request, "runs/working.html", context)


def run_working_data(request: SignedIn, pk: int) -> HttpResponse:
    run = run_or_404(request, pk)
    data = working_dict(run, working_of(run, request.user))
    return JsonResponse(data, json_dumps_params={"ensure_ascii": False, "indent": 1})

"""The log of a bench: what is due, what happened, and writing it down."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from ..access import require
from ..actions import bench_log as actions
from ..forms.bench_log import EntryForm, HappenedForm, ServiceForm
from ..lookups.bench_log import PARTS_CHANGED, entries_of, upkeep
from ..lookups.benches import visible_benches
from ..lookups.services import firings_by_vessel
from ..models import Bench, BenchEvent
from ..parts import page
from ..requests import SignedIn

ENTRIES_A_PAGE = 30
KINDS = [*BenchEvent.Kind.choices, (PARTS_CHANGED, "parts changed")]
FORMS: dict[str, type[HappenedForm]] = {"service": ServiceForm, "entry": EntryForm}


def bench_log(request: SignedIn, code: str) -> HttpResponse:
    found = get_object_or_404(visible_benches(request.user), code=code)
    return _log_page(request, found)


def _log_page(
    request: SignedIn, bench: Bench, refused: str = "", status: int = 200
) -> HttpResponse:
    """The page; the form that was refused, if any, with what was typed in it."""
    chosen = request.GET.get("kind", "")
    entries = entries_of(request.user, bench, chosen)
    forms = {key: _form(request, bench, key, key == refused) for key in FORMS}
    context = {
        "bench": bench,
        "upkeep": upkeep(request.user, [bench])[bench.pk],
        "vessels": firings_by_vessel(bench),
        "page_obj": Paginator(entries, ENTRIES_A_PAGE).get_page(request.GET.get("page")),
        "kinds": KINDS,
        "chosen": chosen,
        "service_form": forms["service"],
        "entry_form": forms["entry"],
    }
    part = "" if refused else "entries"
    return page(request, "benches/log.html", context, part=part, status=status)


def _form(request: SignedIn, bench: Bench, key: str, is_sent: bool) -> HappenedForm:
    sent = request.POST if is_sent else None
    return FORMS[key](sent, bench=bench, account=request.user)


@require_POST
def log_deed(request: SignedIn, code: str, deed: str) -> HttpResponse:
    found = get_object_or_404(visible_benches(request.user), code=code)
    if deed in FORMS:
        return _log_from_form(request, found, deed)
    if deed not in DEEDS:
        raise Http404
    action, done = DEEDS[deed]
    action(found, request.POST.get("words", ""), by=request.user)
    messages.success(request, done)
    return _back(request, found)


def _log_from_form(request: SignedIn, bench: Bench, key: str) -> HttpResponse:
    require(request.user, "keep bench log", bench)
    form = _form(request, bench, key, is_sent=True)
    if not form.is_valid():
        return _log_page(request, bench, refused=key, status=422)
    action = actions.log_service if key == "service" else actions.log_event
    action(bench, by=request.user, **form.cleaned_data)
    messages.success(request, "Logged.")
    return _back(request, bench)


@require_POST
def mend_fault(request: SignedIn, code: str, pk: int) -> HttpResponse:
    found = get_object_or_404(visible_benches(request.user), code=code)
    fault = get_object_or_404(found.events, pk=pk)
    actions.mend_fault(fault, request.POST.get("words", ""), by=request.user)
    messages.success(request, "Logged as mended.")
    return _back(request, found)


DEEDS: dict[str, tuple[Callable[..., object], str]] = {
    "fault": (actions.report_fault, "The fault is in the bench log."),
    "near-miss": (actions.report_near_miss, "Thank you. The near miss is in the bench log."),
    "out-of-service": (actions.take_out_of_service, "Out of service: nothing is opened or fired."),
    "back-in-service": (actions.return_to_service, "Back in service."),
    "release": (actions.override_overdue, "Released for today, with your reason."),
}


def _back(request: SignedIn, bench: Bench) -> HttpResponse:
    return redirect("bench_log", bench.code) if request.user.is_staff_member else redirect("home")

"""Terms: the list, one term, the next from the last, and closing one with its archive."""

from __future__ import annotations

from django.contrib import messages
from django.http import FileResponse, Http404, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from ..access import require
from ..actions import terms as actions
from ..exchange.tables import csv_response
from ..forms.terms import NextTermForm
from ..lookups.archives import PEOPLE_COLUMNS, archive_name, people_of
from ..lookups.course_marks import MARK_COLUMNS, marks_of_term
from ..lookups.retention import due_of, standing_hold
from ..lookups.terms import (
    closing_of,
    groups_without_sign_in,
    run_count,
    sections_of,
    terms_with_counts,
)
from ..models import Term
from ..parts import page
from ..problems.terms import with_closing
from ..requests import SignedIn


def terms(request: SignedIn) -> HttpResponse:
    require(request.user, "set up")
    return page(request, "terms/list.html", {"terms": terms_with_counts()})


def term(request: SignedIn, pk: int) -> HttpResponse:
    require(request.user, "set up")
    found = get_object_or_404(Term, pk=pk)
    context = {
        "term": found,
        "sections": sections_of(found),
        "unsigned": groups_without_sign_in(found).count(),
        "runs": run_count(found),
        "closing": closing_of(found),
        "imports": found.roster_imports.select_related("by")[:10],
        "dues": due_of(found),
        "hold": standing_hold(found),
    }
    return page(request, "terms/detail.html", context)


def begin_term(request: SignedIn, pk: int) -> HttpResponse:
    """The next term from this one; what was typed stays when something is refused."""
    require(request.user, "set up")
    basis = get_object_or_404(Term, pk=pk)
    form = NextTermForm(request.POST or None, basis=basis)
    if request.method == "POST" and form.is_valid():
        chosen = {key: form.cleaned_data[key] for key in ("assistants", "bookings", "samples")}
        made = actions.begin_term(form.save(commit=False), basis, **chosen, by=request.user)
        messages.success(request, f"Made: {made}. Its people come with the roster.")
        return redirect("roster", made.pk)
    status = 422 if request.method == "POST" else 200
    return page(request, "terms/begin.html", {"form": form, "basis": basis}, status=status)


def close_term(request: SignedIn, pk: int) -> HttpResponse:
    """What is still open, and closing when nothing is."""
    require(request.user, "set up")
    found = get_object_or_404(Term, pk=pk)
    if request.method == "POST":
        made = actions.close_term(found, by=request.user)
        messages.success(request, f"{found} is closed. Its archive is {made.archive_name}.")
        return redirect("close_term", found.pk)
    closing = closing_of(found)
    problems = [] if closing else with_closing(found)
    context = {
        "term": found,
        "problems": problems,
        "blocked": any(problem.severity == "B" for problem in problems),
        "closing": closing,
        "runs": run_count(found),
    }
    return page(request, "terms/close.html", context)


@never_cache
@require_POST
def term_archive(request: SignedIn, pk: int) -> HttpResponseBase:
    """The archive as it was kept at the closing."""
    require(request.user, "set up")
    found = get_object_or_404(Term, pk=pk)
    if closing_of(found) is None:
        raise Http404
    file = actions.archives() / archive_name(found)
    if not file.exists():
        raise Http404
    return FileResponse(file.open("rb"), as_attachment=True, filename=file.name)


@never_cache
@require_POST
def term_people(request: SignedIn, pk: int) -> HttpResponse:
    """Names, apart from the archive: made when asked for and kept nowhere."""
    require(request.user, "set up")
    found = get_object_or_404(Term, pk=pk)
    return csv_response(f"term-{pk}-people.csv", PEOPLE_COLUMNS, people_of(found))


@never_cache
@require_POST
def term_marks(request: SignedIn, pk: int) -> HttpResponse:
    require(request.user, "set up")
    found = get_object_or_404(Term, pk=pk)
    return csv_response(f"term-{pk}-marks.csv", MARK_COLUMNS, marks_of_term(found))

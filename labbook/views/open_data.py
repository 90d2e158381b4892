"""Open data: the data set of a term or of a bench, what is said before, and the archive itself."""

from __future__ import annotations

from tempfile import TemporaryFile

from django.http import FileResponse, HttpResponseBase
from django.shortcuts import get_object_or_404
from django.views.decorators.cache import never_cache

from ..access import require
from ..exchange.open_data.about import about
from ..exchange.open_data.archive import file_name, write_open_data
from ..exchange.open_data.tables import TABLES
from ..lookups.open_data import Scope
from ..models import Bench, Term
from ..parts import page
from ..problems import refuse_if_blocked
from ..problems.open_data import with_publishing
from ..requests import SignedIn


@never_cache
def term_open_data(request: SignedIn, pk: int) -> HttpResponseBase:
    require(request.user, "publish open data")
    return _open_data(request, Scope(term=get_object_or_404(Term, pk=pk)))


@never_cache
def bench_open_data(request: SignedIn, code: str) -> HttpResponseBase:
    require(request.user, "publish open data")
    return _open_data(request, Scope(bench=get_object_or_404(Bench, code=code)))


def _open_data(request: SignedIn, scope: Scope) -> HttpResponseBase:
    problems = with_publishing(scope)
    if request.method != "POST":
        context = {
            "scope": scope,
            "problems": problems,
            "blocked": any(problem.severity == "B" for problem in problems),
            "about": about(scope),
            "tables": TABLES,
            "runs": scope.runs().count(),
        }
        return page(request, "open_data/data_set.html", context)
    refuse_if_blocked(problems)
    file = TemporaryFile()  # noqa: SIM115  the answer closes it, once it was sent
    write_open_data(scope, file, with_readings="readings" in request.POST)
    file.seek(0)
    return FileResponse(file, as_attachment=True, filename=file_name(about(scope)))

"""What is printed: data sheets filled and blank, squared paper, the labels of the benches.

A page of paper is plain HTML that prints right from the browser; its PDF is made of the same HTML.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.template.loader import render_to_string
from django.urls import reverse

from .. import clock
from ..access import may, require
from ..cautions import CAUTIONS
from ..exchange.paper.feet import feet_of
from ..exchange.paper.labels import code_of
from ..exchange.paper.pdf import PdfUnavailable, as_pdf
from ..exchange.paper.sizes import PAPERS, Paper, paper_named
from ..forms.whole_numbers import read_whole_number
from ..lookups.benches import visible_benches
from ..lookups.fingerprints import fingerprint_of
from ..lookups.groups import usual_method, visible_groups
from ..lookups.readings import readings_of
from ..lookups.sheets import Sheet
from ..models import Bench, Group, Run
from ..parts import is_about_practice, page
from ..plots.plot_paper import blank_paper, plot_paper
from ..problems import refuse
from ..requests import SignedIn
from .data_sheets import blank_context, filled_context
from .runs import run_or_404


@dataclass(frozen=True)
class Printed:
    """A page to print: its template, the name of its file, and styles that are no files."""

    template: str
    name: str
    context: dict[str, Any]
    styles: dict[str, str] = field(default_factory=dict)


def chosen_paper(request: SignedIn) -> Paper:
    return paper_named(request.GET.get("paper", ""))


def send_printed(request: SignedIn, printed: Printed, *, pdf: bool) -> HttpResponse:
    """The page, whose address ends in a slash, or its PDF, whose address ends in .pdf instead."""
    paper = chosen_paper(request)
    query = request.GET.copy()
    query["paper"] = paper.key
    address = request.path.removesuffix(".pdf").rstrip("/")
    context = printed.context | {
        "paper": paper,
        "papers": PAPERS.values(),
        "pdf_address": f"{address}.pdf?{query.urlencode()}",
        "is_practice_term": is_about_practice(request, printed.context),
    }
    if not pdf:
        return page(request, printed.template, context)
    try:
        made = as_pdf(render_to_string(printed.template, context, request), printed.styles)
    except PdfUnavailable as missing:
        context = {"sentence": str(missing), "page_address": f"{address}/?{query.urlencode()}"}
        return page(request, "paper/no_pdf.html", context, status=503)
    response = HttpResponse(made, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{printed.name}-{paper.key}.pdf"'
    return response


def papers(request: SignedIn) -> HttpResponse:
    """Everything blank that can be printed, and for staff the labels of the benches."""
    context = {
        "may_label": may(request.user, "see benches"),
        "kinds": Run.Kind.choices,
        "groups": visible_groups(request.user),
    }
    return page(request, "paper/index.html", context)


def data_sheet(request: SignedIn, pk: int, pdf: bool = False) -> HttpResponse:
    run = run_or_404(request, pk)
    mark = fingerprint_of(run)
    address = reverse("data_sheet_feet", args=[run.pk])
    printed = Printed(
        "paper/data_sheet.html",
        f"run-{run.pk}-data-sheet",
        filled_context(run, request.user)
        | {"mark": mark, "feet": address, "printed_at": clock.now()},
        {address: feet_of(run, mark.short)},
    )
    return send_printed(request, printed, pdf=pdf)


def data_sheet_feet(request: SignedIn, pk: int) -> HttpResponse:
    """The style sheet that sets the run and its record hash at the foot of every page."""
    run = run_or_404(request, pk)
    return HttpResponse(feet_of(run, fingerprint_of(run).short), content_type="text/css")


def blank_sheet(request: SignedIn, pdf: bool = False) -> HttpResponse:
    """For a group its own bench and method; staff choose the group, or leave it to be written."""
    kind = request.GET.get("kind", Run.Kind.STANDARDIZATION)
    if kind not in Run.Kind.values:
        raise Http404
    group = _group_of(request)
    method = group.section.term.method if group else usual_method()
    bench = group.bench if group else None
    printed = Printed(
        "paper/blank_sheet.html",
        f"blank-{kind}",
        blank_context(kind, group, bench, method) | {"cautions": CAUTIONS},
    )
    return send_printed(request, printed, pdf=pdf)


def _group_of(request: SignedIn) -> Group | None:
    account = request.user
    if account.group is not None:
        return account.group
    chosen = read_whole_number(request.GET.get("group", ""))
    return get_object_or_404(visible_groups(account), pk=chosen) if chosen else None


def run_plot_paper(request: SignedIn, pk: int, pdf: bool = False) -> HttpResponse:
    """The thermogram's readings on squared paper, for the extrapolation by hand."""
    run = run_or_404(request, pk)
    readings = readings_of(run)
    fired = Sheet(run).number("fired_at_s")
    drawn = plot_paper(
        *readings.kept(), chosen_paper(request).grid, None if fired is None else float(fired)
    )
    printed = Printed(
        "paper/plot_paper.html",
        f"run-{run.pk}-plot-paper",
        {"run": run, "drawn": drawn, "count": readings.kept_count, "mark": fingerprint_of(run)},
    )
    return send_printed(request, printed, pdf=pdf)


def blank_plot_paper(request: SignedIn, pdf: bool = False) -> HttpResponse:
    drawn = blank_paper(chosen_paper(request).grid)
    printed = Printed("paper/plot_paper.html", "plot-paper", {"drawn": drawn})
    return send_printed(request, printed, pdf=pdf)


def bench_labels(request: SignedIn, pdf: bool = False) -> HttpResponse:
    """A label for every bench: what a phone is pointed at to open the bench's page."""
    require(request.user, "see benches")
    labels = [_label(request, bench) for bench in visible_benches(request.user)]
    printed = Printed("paper/labels.html", "bench-labels", {"labels": labels})
    return send_printed(request, printed, pdf=pdf)


def _label(request: SignedIn, bench: Bench) -> dict[str, Any]:
    address = request.build_absolute_uri(reverse("at_bench", args=[bench.label]))
    letters = f"{bench.label[:4]} {bench.label[4:]}"
    return {"bench": bench, "letters": letters, "address": address, "code": code_of(address)}


def at_bench(request: SignedIn, label: str) -> HttpResponse:
    """Where a bench's label leads: the group's afternoon there, or for staff the bench's page."""
    bench = get_object_or_404(Bench, label=label.upper())
    group = request.user.group
    if group is None:
        return redirect("bench", bench.code)
    if group.bench_id != bench.pk:
        booked = f"is booked on {group.bench}" if group.bench else "has no bench booked yet"
        raise refuse(
            "booking",
            f"This label belongs to {bench}; group {group} {booked}. Go to your own bench, or ask "
            "your TA to change the booking.",
        )
    return redirect("afternoon")

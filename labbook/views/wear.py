"""Signs of wear of one bench: the charts over its runs, and their figures as a table and as CSV."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404

from ..exchange.tables import csv_response
from ..forms.history import ShownForm
from ..lookups.benches import visible_benches
from ..lookups.history import EVER
from ..lookups.points import Point, points_since
from ..lookups.wear import signs_of_wear
from ..models import Bench
from ..parts import page
from ..requests import SignedIn
from .history_figures import Window, wear_figures, window_of


def bench_wear(request: SignedIn, code: str) -> HttpResponse:
    """Signs of wear on the time axis of the history: a page, and a part of the bench's page."""
    bench = get_object_or_404(visible_benches(request.user), code=code)
    points, window = _points_in_range(bench, ShownForm(request.GET))
    signs = signs_of_wear(request.user, bench, *window)
    wear = wear_figures(signs, points, window) if signs else []
    return page(request, "benches/wear.html", {"bench": bench, "wear": wear}, part="signs")


def bench_signs(request: SignedIn, code: str) -> HttpResponse:
    """The signs of wear as a table: a page, and a part of theirs."""
    bench = get_object_or_404(visible_benches(request.user), code=code)
    _, window = _points_in_range(bench, ShownForm(request.GET))
    context = {"bench": bench, "signs": signs_of_wear(request.user, bench, *window)}
    return page(request, "benches/signs.html", context, part="signs")


def _points_in_range(bench: Bench, form: ShownForm) -> tuple[list[Point], Window]:
    begins, ends = form.range()
    points = [point for point in points_since({bench.pk: begins})[bench.pk] if point.at <= ends]
    return points, window_of(bench, points, form)


WEAR_COLUMNS = (
    "run", "kind", "state", "group", "fired_at", "fore_drift_k_per_s", "after_drift_k_per_s",
    "time_to_95_s", "noise_k",
)  # fmt: skip


def wear_table(request: SignedIn, code: str) -> HttpResponse:
    """The signs of wear of every run there ever was on this bench, as CSV."""
    bench = get_object_or_404(visible_benches(request.user), code=code)
    _, until = ShownForm({}).range()
    rows = (
        [run.pk, run.kind, run.state, run.group, run.at.isoformat(), run.fore_drift,
         run.after_drift, run.time_to_95, run.noise]
        for run in signs_of_wear(request.user, bench, EVER, until)
    )  # fmt: skip
    return csv_response(f"bench-{bench.code}-wear.csv", WEAR_COLUMNS, rows)

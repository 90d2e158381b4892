"""A term's sections and benches compared, its groups without names."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404

from ..access import require
from ..lookups.term_compared import Compared, Measure, compare_term, visible_terms
from ..lookups.withholding import FEWEST_GROUPS, QUARTERS_FROM, Cell
from ..parts import page
from ..plots.compared import Spread, compared
from ..plots.theme import shown
from ..requests import SignedIn


def term_compared(request: SignedIn, pk: int) -> HttpResponse:
    """One term, or with all before it where a term alone has too few groups."""
    require(request.user, "compare term")
    term = get_object_or_404(visible_terms(request.user, "compare term"), pk=pk)
    with_earlier = request.GET.get("terms") == "earlier"
    found = [] if term.is_practice else compare_term(term, request.user, with_earlier=with_earlier)
    rows = [_row(one) for one in found]
    context = {
        "term": term,
        "with_earlier": with_earlier,
        "rows": rows,
        "has_figures": any(row["cells"] for row in rows),
        "fewest": FEWEST_GROUPS,
        "quarters_from": QUARTERS_FROM,
    }
    return page(request, "terms/compared.html", context, part="compared")


def _row(found: Compared) -> dict[str, Any]:
    cells = [
        cell.rounded(found.measure.decimals)
        for cell in (*found.sections.parts, *found.benches.parts, _total(found))
    ]
    spreads = [_spread(cell, found.measure) for cell in cells if cell.median is not None]
    return {
        "measure": found.measure,
        "cells": [cell for cell in cells if not cell.withheld],
        "left_out": _left_out(cells),
        "figure": compared(spreads, found.measure.unit) if len(spreads) > 1 else None,
        "id": f"compared-{found.measure.key}",
    }


def _left_out(cells: Iterable[Cell]) -> dict[str, list[str]]:
    """The names of those without figures, by the reason."""
    reasons: dict[str, list[str]] = {}
    for cell in cells:
        if cell.withheld:
            reasons.setdefault(cell.withheld, []).append(cell.name)
    return reasons


def _total(found: Compared) -> Cell:
    """All groups together; where either way of dividing them withholds it, it is withheld."""
    one, other = found.sections.total, found.benches.total
    return other if other.withheld else one


def _spread(cell: Cell, measure: Measure) -> Spread:
    assert cell.median is not None
    unit, decimals = measure.unit, measure.decimals
    words = f"{cell.name}: median {shown(cell.median, decimals)} {unit} of {cell.n} groups"
    if cell.lower is not None and cell.upper is not None:
        half = f"{shown(cell.lower, decimals)} to {shown(cell.upper, decimals)} {unit}"
        words += f", middle half {half}"
    return Spread(cell.name, cell.median, cell.lower, cell.upper, words)

"""Tables as CSV that a spreadsheet opens without running anything in them."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence

from django.http import HttpResponse

STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def inert(cell: object) -> object:
    """Text a spreadsheet would take for a formula, behind an apostrophe; all else as it is."""
    if isinstance(cell, str) and cell.startswith(STARTS_A_FORMULA):
        return f"'{cell}"
    return cell


def csv_response(
    name: str, columns: Sequence[str], rows: Iterable[Iterable[object]]
) -> HttpResponse:
    response = HttpResponse(content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    writer = csv.writer(response)
    writer.writerow(columns)
    writer.writerows([inert(cell) for cell in row] for row in rows)
    return response

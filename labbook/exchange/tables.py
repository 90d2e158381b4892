"""Tables as CSV that a spreadsheet opens without running anything in them."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence

from django.http import HttpResponse
from django.utils.http import content_disposition_header

from ..typesetting.cells import inert


def csv_response(
    name: str, columns: Sequence[str], rows: Iterable[Iterable[object]]
) -> HttpResponse:
    response = HttpResponse(content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = content_disposition_header(True, name)
    writer = csv.writer(response)
    writer.writerow(columns)
    writer.writerows([inert(cell) for cell in row] for row in rows)
    return response

"""What is in a package: the name of every file, and how it is made when it is asked for."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Iterator
from functools import cache, partial
from typing import Any

from django.template.loader import render_to_string

from ...lookups.fingerprints import canonical
from ...models import LoggerFile
from ...plots.printed_thermogram import HEIGHT, WIDTH, printed_thermogram
from ..paper.pdf import PdfUnavailable, as_pdf
from ..paper.png import as_png
from . import report, tables
from .archive import archived
from .delivery import DeliveredRun, Delivery
from .pages import data_sheet, working_page
from .workbook import energy_balances

Made = Callable[[], bytes]
NOT_IN_A_NAME = re.compile(r"[^\w.-]+")


def package(delivery: Delivery) -> bytes:
    """The whole package as a zip; the same hand-in gives the same bytes."""
    made = {name: make() for name, make in contents(delivery).items()}
    return archived(made, delivery.hand_in.at)


def contents(delivery: Delivery) -> dict[str, Made]:
    """By name, in the order a reader takes them."""
    found: dict[str, Made] = {
        "README.txt": partial(_readme, delivery),
        "results.csv": partial(report.results_csv, delivery),
        "report/results.html": partial(report.results_html, delivery),
        "report/results.tex": partial(report.results_latex, delivery),
        "report/captions.txt": partial(report.captions, delivery),
        "record.json": partial(canonical, delivery.record),
    }
    if any(run.steps for run in delivery.runs):
        found["energy-balances.xlsx"] = partial(_workbook, delivery)
    for run in delivery.runs:
        found |= {f"run-{run.number}/{name}": made for name, made in _of_run(run, delivery)}
    return found


def _of_run(run: DeliveredRun, delivery: Delivery) -> Iterator[tuple[str, Made]]:
    as_paper = can_make_pdf()
    if as_paper:
        yield "data-sheet.pdf", lambda: as_pdf(data_sheet(run, delivery), {})
    else:
        yield "data-sheet.html", lambda: data_sheet(run, delivery).encode()
    if run.steps:
        yield "working.html", lambda: working_page(run, delivery).encode()
    yield "run-file.json", partial(_json, run.record["inputs"])
    yield "constants.csv", partial(tables.constants, run)
    yield "history.csv", partial(tables.history, run, delivery.names)
    if run.record["evidence"]["readings"]:
        yield "readings-as-entered.csv", partial(tables.readings_as_entered, run, delivery.names)
    if run.record["inputs"]["readings"]["time_s"]:
        yield "readings.csv", partial(tables.readings_that_count, run)
        yield "thermogram.svg", lambda: _drawn(run).encode()
        if as_paper:
            yield "thermogram.png", lambda: as_png(_drawn(run), WIDTH, HEIGHT)
    for file in run.record["files"]:
        name = NOT_IN_A_NAME.sub("_", file["name"]).lstrip(".") or "file"
        yield f"files/{file['number']}-{name}", partial(_original, file)


@cache
def can_make_pdf() -> bool:
    try:
        as_pdf("<p>", {})
    except PdfUnavailable:
        return False
    return True


def _drawn(run: DeliveredRun) -> str:
    caption = f"Temperature against time, {run.title}"
    return printed_thermogram(*run.in_order_of_time(), run.outputs, caption)


def _original(file: dict[str, Any]) -> bytes:
    """The bytes handed in, checked against the sum in the record."""
    content = bytes(LoggerFile.objects.get(pk=file["number"]).content)
    if hashlib.sha256(content).hexdigest() != file["sha256"]:
        raise ValueError(f"The file {file['name']} is not the one this hand-in names.")
    return content


def _workbook(delivery: Delivery) -> bytes:
    return energy_balances(delivery) or b""


def _json(record: dict[str, Any]) -> bytes:
    return (json.dumps(record, ensure_ascii=False, indent=1, sort_keys=True) + "\n").encode()


def _readme(delivery: Delivery) -> bytes:
    context = {"delivery": delivery, "hand_in": delivery.hand_in, "record": delivery.record}
    return render_to_string("handing_in/package/readme.txt", context).encode()

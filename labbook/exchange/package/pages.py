"""The data sheet and the working of a run as pages that stand alone, made from its record."""

from __future__ import annotations

from datetime import datetime
from itertools import pairwise
from pathlib import Path
from typing import Any

from django.contrib.staticfiles import finders
from django.template.loader import render_to_string
from django.utils import timezone

from ...lookups.snapshots import Record
from ...typesetting.corrections import CORRECTIONS
from ...typesetting.methods import METHODS
from ...typesetting.written_steps import written_parts
from ..results import results_in
from .delivery import DeliveredRun, Delivery

ACROSS = 5  # readings side by side
MOST_PRINTED = 400  # a logger’s thousands are for a table, not for paper
STYLES = ("paper.css", "paper_on_screen.css", "package.css")


def data_sheet(run: DeliveredRun, delivery: Delivery) -> str:
    evidence = run.record["evidence"]
    readings = _readings(evidence)
    printed = readings if len(readings) <= MOST_PRINTED else []
    rise = run.outputs.get("rise_used") or {}
    return _page(
        "handing_in/package/data_sheet.html",
        delivery,
        run,
        parts=_parts(run, delivery),
        present=[delivery.names.person(number) for number in evidence["present"]],
        said={
            part: [_told(row, delivery) for row in evidence[part]]
            for part in ("strikes", "checks", "answers", "happenings", "decisions")
        },
        readings=[printed[start : start + ACROSS] for start in range(0, len(printed), ACROSS)],
        across=range(ACROSS),
        count=len(readings),
        results=results_in(run.outputs),
        rise=rise,
        rise_words=METHODS.get(rise.get("method", ""), ""),
    )


def working_page(run: DeliveredRun, delivery: Delivery) -> str:
    left_out = [row for row in run.outputs.get("corrections", []) if not row["applied"]]
    return _page(
        "handing_in/package/working.html",
        delivery,
        run,
        parts=written_parts(run.steps),
        left_out=[(CORRECTIONS[row["name"]], row) for row in left_out],
    )


def _page(template: str, delivery: Delivery, run: DeliveredRun, **context: Any) -> str:
    shared = {"run": run, "record": run.record, "delivery": delivery, "styles": _styles()}
    return render_to_string(template, shared | context)


def _styles() -> str:
    """A page that leaves the record takes its styles along."""
    return "\n".join(Path(str(finders.find(f"labbook/{name}"))).read_text() for name in STYLES)


def _parts(run: DeliveredRun, delivery: Delivery) -> list[tuple[str, list[Record]]]:
    """Each field with its entries, the one that counts first and the struck-out ones below it."""
    entries: dict[str, list[Record]] = {}
    for entry in run.record["evidence"]["entries"]:
        entries.setdefault(entry["field"], []).insert(0, _told(entry, delivery))
    return [
        (title, [_field(field, entries.get(field["key"], [])) for field in fields])
        for title, fields in run.record["parts"]
    ]


def _field(field: Record, entries: list[Record]) -> Record:
    """``why`` of a struck-out entry is the reason its replacement gave."""
    struck = [old | {"why": newer["reason"]} for newer, old in pairwise(entries)]
    for entry in entries + struck:
        entry["shown"] = field["choices"].get(entry["text"], entry["text"])
    return field | {"entry": entries[0] if entries else None, "struck": struck}


def _told(row: Record, delivery: Delivery) -> Record:
    at = timezone.localtime(datetime.fromisoformat(row["at"]))
    return row | {"who": delivery.names.who(row), "when": at}


def _readings(evidence: Record) -> list[Record]:
    ranges = [(s["first_number"], s["last_number"]) for s in evidence["strikes"]]
    return [
        {
            "number": reading["number"],
            "time": reading["written"]["time"],
            "temperature": reading["written"]["temperature"],
            "is_struck": any(a <= reading["number"] <= b for a, b in ranges),
        }
        for reading in evidence["readings"]
    ]

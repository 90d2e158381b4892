"""The tables of a package, as comma-separated text in UTF-8."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Sequence
from io import StringIO

from ...lookups.handing_in import Names
from ...lookups.snapshots import Record
from ...typesetting.cells import inert
from .delivery import DeliveredRun


def as_csv(columns: Sequence[str], rows: Iterable[Iterable[object]]) -> bytes:
    written = StringIO()
    writer = csv.writer(written, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([inert(value) for value in row] for row in rows)
    return written.getvalue().encode()


def readings_that_count(run: DeliveredRun) -> bytes:
    """As a logger file: taken in again it gives the same readings, to the last digit."""
    columns = (values.tolist() for values in run.in_order_of_time())
    return as_csv(("time_s", "temperature_c"), zip(*columns, strict=True))


def readings_as_entered(run: DeliveredRun, names: Names) -> bytes:
    """Every reading as it was typed or stood in the file, with its strike where it has one."""
    columns = ("number", "time", "temperature", "from", "struck out because", "by", "at")
    return as_csv(columns, _entered(run, names))


def _entered(run: DeliveredRun, names: Names) -> Iterator[tuple[object, ...]]:
    evidence = run.record["evidence"]
    files = {file["sha256"]: file["name"] for file in run.record["files"]}
    for reading in evidence["readings"]:
        number, written = reading["number"], reading["written"]
        strike = next((s for s in evidence["strikes"] if _covers(s, number)), None)
        source = files.get(reading["file_sha256"] or "", reading["source"])
        struck = (strike["reason"], names.who(strike), strike["at"]) if strike else ("", "", "")
        yield (number, written["time"], written["temperature"], source, *struck)


def _covers(strike: Record, number: int) -> bool:
    covers: bool = strike["first_number"] <= number <= strike["last_number"]
    return covers


def constants(run: DeliveredRun) -> bytes:
    """Lots and certificates, then the constants the reduction used, each with its source."""
    lots = [
        (lot["what"], lot["value"], "", f"lot {lot['lot']}, {lot['words']}; {lot['source']}")
        for lot in run.record["lots"]
    ]
    used = [(c["name"], c["value"], c["unit"], c["source"]) for c in _constants(run)]
    return as_csv(("what", "value", "unit", "source"), lots + used)


def _constants(run: DeliveredRun) -> list[Record]:
    found: list[Record] = run.outputs.get("constants", [])
    return found


def history(run: DeliveredRun, names: Names) -> bytes:
    """Everything written to the run, in the order of time."""
    rows = sorted(_happened(run, names), key=lambda row: row[0])
    return as_csv(("at", "by", "what", "text", "why"), rows)


def _happened(run: DeliveredRun, names: Names) -> Iterator[tuple[str, str, str, str, str]]:
    evidence = run.record["evidence"]
    words = {field["key"]: field["words"] for _, part in run.record["parts"] for field in part}
    told = (
        ("entries", lambda r: (words.get(r["field"], r["field"]), r["text"], r["reason"])),
        ("strikes", lambda r: (_struck(r), "", r["reason"])),
        ("checks", lambda r: ("ticked" if r["is_done"] else "tick taken back", r["item"], "")),
        ("answers", lambda r: (f"answered: {r['sentence']}", r["answer"], r["words"])),
        ("happenings", lambda r: ("what happened", r["kind"], r["words"])),
        ("decisions", lambda r: (r["deed"], r["new"], r["reason"])),
    )
    for part, tell in told:
        for row in evidence[part]:
            yield (row["at"], names.who(row), *tell(row))
    for row in run.record["hand_figures"]:
        figure = f"{row['text']} {row['unit']}".strip()
        yield (row["at"], names.who(row), f"hand figure {row['key']}", figure, "")


def _struck(strike: Record) -> str:
    return f"readings {strike['first_number']} to {strike['last_number']} struck out"

"""The archive of a term: every run's record, readings and result, with checksums, without names.

A run's file is the text its record hash is taken over, so that the file's SHA-256 is that hash.
People and marks are kept apart: see ``people_of`` and ``course_marks``.
"""

from __future__ import annotations

import csv
import hashlib
import json
import re
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from io import BytesIO, StringIO
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder

from ..models import Membership, Run, Standardization, Term
from ..typesetting.cells import inert
from .fingerprints import canonical, record_of

FORM = 1  # of the archive; goes up when a program that reads it must change
SUMS = "SHA256SUMS"
ABOUT = "README.txt"
# The same content makes the same zip, to the byte.
LONG_AGO = (1980, 1, 1, 0, 0, 0)
WORDS = """Archive of one term of the combustion bench record.

runs.csv              every run in a line
runs/N.json           the record of run N, as its record hash was taken over it
runs/N-readings.csv   its readings: number, time (s), temperature (°C), source
results/N.json        the result that stood: inputs, constants with sources, method, outputs
files/…               logger files, byte for byte as they were handed in
standardizations.csv  each bench's standardizations with the approved heat capacity
manifest.json         what this archive is of, and the size and SHA-256 of every file
SHA256SUMS            the same sums, as “sha256sum -c SHA256SUMS” checks them

People are named by their number in the record alone; their names are kept apart from this archive.
"""
RUN_COLUMNS = (
    "run", "kind", "section", "group", "bench", "replicate", "state", "cause", "opened_at",
    "method", "sample", "record_sha256",
)  # fmt: skip


def archive_name(term: Term) -> str:
    plain = re.sub(r"[^\w-]+", "-", term.name, flags=re.ASCII).strip("-").lower()
    return f"term-{term.pk}-{plain or 'unnamed'}.zip"


def archive_of(term: Term) -> tuple[bytes, dict[str, int]]:
    """The zip, and how much of what is in it."""
    runs = list(_runs_of(term))
    files = dict(_members(term, runs))
    counts = {
        "runs": len(runs),
        "logger files": sum(name.startswith("files/") for name in files),
        "standardizations": _standardizations_of(term).count(),
    }
    files["manifest.json"] = _json(_manifest(term, counts, files))
    sums = [f"{_sum(content)}  {name}\n" for name, content in sorted(files.items())]
    files[SUMS] = "".join(sums).encode()
    return _zip(files), counts


def _sum(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _zip(files: dict[str, bytes]) -> bytes:
    packed = BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in sorted(files):
            one = zipfile.ZipInfo(name, LONG_AGO)
            one.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(one, files[name])
    return packed.getvalue()


def _manifest(term: Term, counts: dict[str, int], files: dict[str, bytes]) -> dict[str, Any]:
    return {
        "form": FORM,
        "term": {
            "number": term.pk,
            "name": term.name,
            "starts": term.starts,
            "ends": term.ends,
            "is_practice": term.is_practice,
        },
        "counts": counts,
        "files": {
            name: {"bytes": len(content), "sha256": _sum(content)}
            for name, content in sorted(files.items())
        },
    }


def _runs_of(term: Term) -> Iterable[Run]:
    runs = Run.objects.filter(group__section__term=term).order_by("pk")
    return runs.select_related("group__section", "bench", "method", "sample", "result")


def _standardizations_of(term: Term) -> Any:
    found = Standardization.objects.filter(group__section__term=term).order_by("pk")
    return found.select_related("group__section", "bench")


def _members(term: Term, runs: list[Run]) -> Iterator[tuple[str, bytes]]:
    yield ABOUT, WORDS.encode()
    lines = []
    for run in runs:
        record = record_of(run)
        content = canonical(record)
        lines.append([*_line(run), _sum(content)])
        yield f"runs/{run.pk}.json", content
        yield f"runs/{run.pk}-readings.csv", _readings(record)
        if run.result is not None:
            result = {"inputs": run.result.inputs, "outputs": run.result.outputs}
            yield f"results/{run.pk}.json", _json(result)
        for file in run.files.order_by("pk"):
            yield f"files/run-{run.pk}-file-{file.pk}", bytes(file.content)
    yield "runs.csv", csv_bytes(RUN_COLUMNS, lines)
    yield "standardizations.csv", _standardizations(term)


def _line(run: Run) -> list[Any]:
    return [
        run.pk, run.kind, run.group.section.name, run.group.code, run.bench.code, run.replicate,
        run.state, run.cause, run.opened_at.isoformat(), str(run.method), run.sample or "",
    ]  # fmt: skip


def _readings(record: dict[str, Any]) -> bytes:
    rows = [
        (one["number"], repr(one["time_s"]), repr(one["temperature_c"]), one["source"])
        for one in record["readings"]
    ]
    return csv_bytes(("number", "time_s", "temperature_c", "source"), rows)


def _standardizations(term: Term) -> bytes:
    columns = ("number", "section", "group", "bench", "state", "mean_c_j_per_k", "runs")
    rows = [
        (
            one.pk, one.group.section.name, one.group.code, one.bench.code, one.state,
            one.approved_c_j_per_k or "", " ".join(str(run.pk) for run in one.runs.order_by("pk")),
        )
        for one in _standardizations_of(term)
    ]  # fmt: skip
    return csv_bytes(columns, rows)


def _json(value: Any) -> bytes:
    text = json.dumps(value, cls=DjangoJSONEncoder, ensure_ascii=False, sort_keys=True, indent=1)
    return text.encode()


def csv_bytes(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    """Text that a spreadsheet would take for a formula stands behind an apostrophe."""
    written = StringIO()
    writer = csv.writer(written)
    writer.writerow(columns)
    writer.writerows([inert(cell) for cell in row] for row in rows)
    return written.getvalue().encode()


PEOPLE_COLUMNS = ("person", "name", "student_number", "section", "group", "since", "until")


def people_of(term: Term) -> list[tuple[object, ...]]:
    """Who was in which group from when to when, by the numbers the archive names them by."""
    found = Membership.objects.filter(group__section__term=term).order_by("person_id", "since")
    return [
        (
            one.person_id, one.person.name, one.person.student_number, one.group.section.name,
            one.group.code, one.since, one.until or "",
        )
        for one in found.select_related("person", "group__section")
    ]  # fmt: skip

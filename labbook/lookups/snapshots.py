"""A group's work as one record: everything a package is made from, in JSON's own types.

People and accounts stand in it by their number alone; a reader of the record looks the names up
when it shows them, so that a name removed later is gone from old records too, and their hash stays.
A sample whose identity is hidden is hidden here for good.
"""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Iterable
from datetime import UTC
from typing import Any

from ..models import Group, HandFigure, HandFiguresSaved, LiteratureValue, Run, Standardization
from ..sheet import Field, parts_for
from .fingerprints import BY, BY_A_PERSON, canonical, record_of, rows
from .inputs import inputs_of
from .readings import Readings, files_of, readings_of
from .sheets import Sheet
from .standardizations import summary_of

FORM = 1  # of the JSON; goes up when the same work would read differently
Record = dict[str, Any]


def packed(record: Record) -> tuple[bytes, str]:
    """The record as it is stored, and the SHA-256 of what is inside."""
    plain = canonical(record)
    return zlib.compress(plain, 9), hashlib.sha256(plain).hexdigest()


def unpacked(stored: bytes | memoryview) -> Record:
    record: Record = json.loads(zlib.decompress(bytes(stored)))
    return record


def snapshot_of(group: Group) -> Record:
    """The group's runs, the oldest first, and its standardizations as they stand."""
    section = group.section
    return {
        "form": FORM,
        "group": {"number": group.pk, "code": group.code},
        "section": section.name,
        "term": section.term.name,
        "is_practice": section.term.is_practice,
        "runs": [run_record(run) for run in runs_to_hand_in(group)],
        "standardizations": [_set_record(found, group) for found in _sets(group)],
    }


def runs_to_hand_in(group: Group) -> list[Run]:
    """Every run but practice: what was set aside is part of the afternoon, with its cause."""
    related = ("bench", "configuration", "method", "sample__substance", "result", "rests_on")
    lots = ("standard_lot__substance", "fuse_lot", "titrant_lot", "aid_lot", "second_aid_lot")
    runs = group.runs.exclude(kind=Run.Kind.PRACTICE).select_related("group", *related, *lots)
    return list(runs.order_by("pk"))


def _sets(group: Group) -> Iterable[Standardization]:
    used = Standardization.objects.filter(dependent_runs__group=group)
    return (group.standardizations.all() | used).distinct().order_by("pk")


def run_record(run: Run) -> Record:
    sheet, readings = Sheet(run), readings_of(run)
    evidence = record_of(run)
    return {
        "number": run.pk,
        "title": _title(run),
        "kind": run.kind,
        "replicate": run.replicate,
        "sample": run.sample.label if run.sample else None,
        "is_hidden": run.sample is not None and run.sample.is_hidden,
        "state": run.state,
        "cause": run.get_cause_display() if run.cause else "",
        "bench": run.bench.code,
        "method": str(run.method),
        "standardization": run.standardization_id,
        "rests_on": run.rests_on_id,
        "evidence": evidence,
        "evidence_sha256": hashlib.sha256(canonical(evidence)).hexdigest(),
        "parts": [
            [part.title, [_field(run, field) for field in part.fields]]
            for part in parts_for(run.kind)
        ],
        "inputs": _inputs(run, sheet, readings),
        "result": _result(run),
        "lots": _lots(run),
        "files": _files(run, readings),
        "hand_figures": rows(
            HandFigure.objects.filter(run=run), "key", "text", "unit", "replaces_id", *BY_A_PERSON
        ),
        "hand_figures_saved": rows(HandFiguresSaved.objects.filter(run=run), *BY_A_PERSON),
        "literature": _literature(run),
    }


def _title(run: Run) -> str:
    if run.sample:
        return f"Unknown {run.sample.label}, run {run.replicate}"
    return f"{run.get_kind_display().capitalize()} run {run.replicate}"


def _field(run: Run, field: Field) -> Record:
    is_wire = field.key in ("fuse_before", "fuse_left")
    unit = run.fuse_lot.measured_in if is_wire and run.fuse_lot else field.unit
    return {"key": field.key, "words": field.words, "unit": unit, "choices": dict(field.choices)}


def _inputs(run: Run, sheet: Sheet, readings: Readings) -> Record:
    """The run file of the kept result; what it would be now where there is none yet."""
    now = inputs_of(run, sheet, readings)
    kept = run.result.inputs if run.result is not None else None
    if kept is not None and kept["readings"]["count"] == readings.kept_count:
        now = {**kept, "readings": now["readings"]}
    return {key: value for key, value in now.items() if key != "thresholds"}


def _result(run: Run) -> Record | None:
    result = run.result
    if result is None:
        return None
    return {
        "number": result.pk,
        "at": result.at.astimezone(UTC).isoformat(),
        "version": result.version,
        "failure": result.failure,
        "outputs": result.outputs,
    }


def _lots(run: Run) -> list[Record]:
    """What was put in from bottles and certificates, with where each value is from."""
    found = []
    if lot := run.standard_lot:
        words = f"{lot.substance}, {lot.get_basis_display()}"
        found.append(_lot("standard", lot.code, words, lot.value_words, lot.certificate))
    if wire := run.fuse_lot:
        value = f"{wire.value} {wire.basis}"
        found.append(_lot("fuse wire", wire.code, wire.material, value, wire.source))
    if base := run.titrant_lot:
        found.append(_lot("titrant", base.code, base.solute, f"{base.mol_per_l} mol/L", ""))
    for aid in (run.aid_lot, run.second_aid_lot):
        if aid is not None:
            value = f"{aid.j_per_g} J/g"
            found.append(_lot("combustion aid", aid.code, aid.material, value, aid.source))
    return found


def _lot(what: str, code: str, words: str, value: str, source: str) -> Record:
    return {"what": what, "lot": code, "words": words, "value": value, "source": source}


def _files(run: Run, readings: Readings) -> list[Record]:
    """The files handed in by their SHA-256; their bytes are kept as evidence of their own."""
    return [
        {
            "number": handed.file.pk,
            "name": handed.file.name,
            "sha256": handed.file.sha256,
            "size": handed.file.size,
            "state": handed.state,
        }
        for handed in files_of(run, readings)
    ]


def _literature(run: Run) -> list[Record]:
    return [
        {
            "dch_kj_per_mol": str(found.dch_kj_per_mol),
            "u_kj_per_mol": None if found.u_kj_per_mol is None else str(found.u_kj_per_mol),
            "citation": found.citation,
        }
        for found in LiteratureValue.objects.filter(run=run).order_by("pk")
    ]


def _set_record(found: Standardization, group: Group) -> Record:
    """A set and what was approved from it; the runs of another group stay that group's."""
    own, approval = found.group_id == group.pk, found.approval
    return {
        "number": found.pk,
        "bench": found.bench.code,
        "is_own": own,
        "state": found.state,
        "counted": [run.pk for run, _ in summary_of(found).counted] if own else [],
        "approved": None
        if approval is None
        else {
            "at": approval.at.astimezone(UTC).isoformat(),
            "c_j_per_k": approval.c_j_per_k,
            "s_j_per_k": approval.s_j_per_k,
            "half_width_j_per_k": approval.half_width_j_per_k,
            "n": approval.n,
        },
        "decisions": rows(found.decisions, "deed", "old", "new", "reason", *BY),
    }

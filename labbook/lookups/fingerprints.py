"""The record hash of a run: one number for everything that was put into it.

It is the SHA-256 of one line of JSON (UTF-8, keys in order, no spaces; ``record_of`` builds it) and
is printed on every page of a data sheet: two sheets of one run that carry the same hash show the
same record. It covers what people and loggers put in, struck figures too, and what was decided;
never what was computed, so reducing a run again leaves it alone.

Records are named by their numbers and moments are in UTC. Names of people are left out, so that
removing a name later changes no hash. Readings are taken one by one, so that it makes no
difference in how many blocks they are kept.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from ..models import Run
from ..models.readings import unpack

FORM = 1  # of the JSON; goes up when the same record would read differently
SHORT = 12


@dataclass(frozen=True)
class Fingerprint:
    full: str

    @property
    def short(self) -> str:
        """The beginning, in groups of four: enough to tell two sheets of a run apart."""
        return _grouped(self.full[:SHORT], 4)

    @property
    def spaced(self) -> str:
        return _grouped(self.full, 8)


def _grouped(text: str, size: int) -> str:
    return " ".join(text[place : place + size] for place in range(0, len(text), size))


def fingerprint_of(run: Run) -> Fingerprint:
    return Fingerprint(hashlib.sha256(canonical(record_of(run))).hexdigest())


def canonical(record: dict[str, Any]) -> bytes:
    text = json.dumps(record, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return text.encode()


def record_of(run: Run) -> dict[str, Any]:
    """Everything the hash covers. Lists of records stand in the order they were written."""
    return {
        "form": FORM,
        "run": _head(run),
        "present": sorted(run.present.values_list("pk", flat=True)),
        "entries": rows(run.entries, "field", "text", "replaces_id", "reason", *BY_A_PERSON),
        "readings": list(_readings(run)),
        "strikes": rows(run.strikes, "first_number", "last_number", "reason", *BY_A_PERSON),
        "checks": rows(run.checks, "item", "is_done", "person_id", *BY),
        "answers": rows(run.answers, "code", "field", "sentence", "answer", "words", *BY_A_PERSON),
        "happenings": rows(run.happenings, "kind", "words", *BY_A_PERSON),
        "decisions": rows(run.decisions, "deed", "old", "new", "reason", *BY),
    }


BY = ("at", "by_id")
BY_A_PERSON = (*BY, "entered_by_id")


def _head(run: Run) -> dict[str, Any]:
    numbers = ("group_id", "bench_id", "configuration_id", "method_id", "sample_id", "rests_on_id")
    return {
        "number": run.pk,
        "kind": run.kind,
        "replicate": run.replicate,
        "opened_at": _plain(run.opened_at),
        **{name: getattr(run, name) for name in numbers},
    }


def rows(records: Any, *fields: str) -> list[dict[str, Any]]:
    found = records.order_by("pk").values("pk", *fields)
    return [{name: _plain(value) for name, value in row.items()} for row in found]


def _plain(value: Any) -> Any:
    return value.astimezone(UTC).isoformat() if isinstance(value, datetime) else value


NAMES_A_PERSON = "by"


def _readings(run: Run) -> Iterator[dict[str, Any]]:
    """Each reading as understood and as written, with where it came from."""
    for block in run.blocks.select_related("file").order_by("first_number"):
        pieces = zip(
            block.numbers.tolist(),
            unpack(block.times_s).tolist(),
            unpack(block.temperatures_c).tolist(),
            block.read_details(),
            strict=True,
        )
        for number, time_s, temperature_c, written in pieces:
            yield {
                "number": number,
                "time_s": time_s,
                "temperature_c": temperature_c,
                "written": {k: v for k, v in written.items() if k != NAMES_A_PERSON},
                "source": block.source,
                "device": block.device_id,
                "file_sha256": block.file.sha256 if block.file else None,
            }

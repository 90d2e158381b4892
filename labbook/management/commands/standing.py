"""Print how each bench stands, for cron and monitoring."""

from __future__ import annotations

import json
import sys
from argparse import ArgumentParser
from datetime import datetime
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from labbook.lookups.history import all_histories
from labbook.lookups.phases import BenchHistory


class Command(BaseCommand):
    help = "Prints each bench's standing; the exit code is 1 when any bench is out of line."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--json", action="store_true", help="one JSON object a bench, in a list"
        )
        parser.add_argument("--bench", metavar="B", help="only this bench, by its code")

    def handle(self, *, json: bool, bench: str | None, **options: Any) -> None:
        found = [row for row in all_histories() if bench is None or row.bench.code == bench]
        if bench is not None and not found:
            raise CommandError(f"There is no bench {bench}. Give its code as on the benches page.")
        self.stdout.write(as_json(found) if json else "\n".join(map(as_words, found)))
        if any(row.standing == "out of line" for row in found):
            sys.exit(1)


def as_json(found: list[BenchHistory]) -> str:
    return json.dumps([_facts(row) for row in found], indent=2, ensure_ascii=False)


def _facts(row: BenchHistory) -> dict[str, Any]:
    approval = row.in_force.approval if row.in_force else None
    return {
        "bench": row.bench.code,
        "standing": row.standing,
        "since": row.since.isoformat() if row.since else None,
        "c_j_per_k": approval.c_j_per_k if approval else None,
        "half_width_95_j_per_k": approval.half_width_j_per_k if approval else None,
        "in_force_since": approval.at.isoformat() if approval else None,
        "in_service": row.bench.in_service,
        "reasons": list(row.reasons),
    }


def as_words(row: BenchHistory) -> str:
    since = f" since {_day(row.since)}" if row.since else ""
    lines = [f"{row.bench.code}: {row.standing}{since}. {_in_force(row)}"]
    return "\n".join([*lines, *(f"  {sentence}" for sentence in row.reasons)])


def _in_force(row: BenchHistory) -> str:
    approval = row.in_force.approval if row.in_force else None
    if approval is None:
        return "No approval in force."
    half = approval.half_width_j_per_k
    interval = "" if half is None else f" ± {half:.1f}"
    return f"C = {approval.c_j_per_k:.1f}{interval} J/K (95 %), approved {_day(approval.at)}."


def _day(moment: datetime) -> str:
    return f"{timezone.localtime(moment):%-d %B %Y}"

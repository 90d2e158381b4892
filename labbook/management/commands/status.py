"""How the record itself stands, for the machine's own account."""

from __future__ import annotations

import json
import sys
from argparse import ArgumentParser
from dataclasses import asdict
from typing import Any

from django.core.management.base import BaseCommand

from labbook.lookups.status import BAD, status_of_record


class Command(BaseCommand):
    help = (
        "Says what is on the status page, the gravest first. Exit code 1 when something has to "
        "be acted on."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--json", action="store_true", help="print as JSON")

    def handle(self, *, json: bool, **options: Any) -> None:
        found = status_of_record()
        if json:
            self.stdout.write(_as_json([asdict(one) for one in found]))
        else:
            for one in found:
                sentences = " ".join([one.words, *one.said, one.advice]).strip()
                self.stdout.write(f"{one.state:9}  {one.title}: {sentences}")
        if any(one.state == BAD for one in found):
            sys.exit(1)


def _as_json(found: list[dict[str, Any]]) -> str:
    return json.dumps(found, indent=2)

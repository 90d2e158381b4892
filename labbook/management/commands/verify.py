"""Whether the evidence is as it was written."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from ...actions.upkeep import verify
from ...lookups.chain import Verified, heads


class Command(BaseCommand):
    help = (
        "Walk the chains of evidence and name the first break of each book. "
        "Exit code 1 when anything is not as it was written."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--json", action="store_true", help="print as JSON")
        parser.add_argument(
            "--keep-heads",
            type=Path,
            metavar="FILE",
            help="write how far every book has come; keep the file on another machine",
        )
        parser.add_argument(
            "--since", type=Path, metavar="FILE", help="heads kept earlier, to go on from"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        found = verify(_read_heads(options["since"]), by=None)
        if options["json"]:
            self.stdout.write(json.dumps(_as_dict(found), indent=2))
        else:
            self._print(found)
        if not found.is_whole:
            sys.exit(1)
        if options["keep_heads"]:
            options["keep_heads"].write_text(json.dumps(heads(), indent=1) + "\n")

    def _print(self, found: Verified) -> None:
        self.stdout.write(f"{found.links} rows of evidence in {found.books} books.")
        for one in found.breaks:
            self.stdout.write(f"{one.where}: {one.sentence}")
        if found.is_whole:
            self.stdout.write("All as they were written.")
        self.stdout.write(f"Heads: {found.heads}")


def _read_heads(file: Path | None) -> dict[str, list[Any]]:
    if file is None:
        return {}
    try:
        kept: dict[str, list[Any]] = json.loads(file.read_text())
    except (OSError, ValueError) as error:
        raise CommandError(
            f"{file} holds no heads: {error}. Give a file of --keep-heads."
        ) from error
    return kept


def _as_dict(found: Verified) -> dict[str, Any]:
    return {
        "whole": found.is_whole,
        "books": found.books,
        "rows": found.links,
        "heads": found.heads,
        "breaks": [{"where": one.where, "what": one.sentence} for one in found.breaks],
    }

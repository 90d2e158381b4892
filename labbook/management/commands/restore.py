"""Put a backup in the record's place."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from labbook.actions.upkeep import note_upkeep
from labbook.exchange.backups.restoring import Restored, restore_backup
from labbook.models import Account, Run, Standardization, Term, Upkeep
from labbook.problems import Refused


class Command(BaseCommand):
    help = (
        "Restores a backup into a fresh install, with the server stopped. Everything is checked "
        "before anything changes. Exit code 1 when nothing was restored."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE")
        parser.add_argument(
            "--yes", action="store_true", help="also where there is a record; it is kept beside"
        )

    def handle(self, *, file: Path, yes: bool, **options: Any) -> None:
        try:
            restored = restore_backup(file, instead=yes)
        except Refused as refused:
            raise CommandError(f"Nothing was restored. {refused}", returncode=1) from refused
        words = f"{file.name}, made {restored.manifest.made_at}"
        details = {"file": file.name, "heads": restored.found.heads, "aside": restored.aside}
        note_upkeep(
            Upkeep.Kind.RESTORE, words, is_fine=restored.found.is_whole, by=None, details=details
        )
        for line in _told(restored):
            self.stdout.write(line)


def _told(restored: Restored) -> list[str]:
    manifest, found = restored.manifest, restored.found
    whole = "all as they were written" if found.is_whole else "NOT as they were written"
    lines = [
        f"Restored: the record of {manifest.made_at}, version {manifest.version}.",
        f"{found.links:,} rows of evidence in {found.books:,} books, {whole}.",
        f"{Run.objects.count():,} runs, {Standardization.objects.count():,} standardizations, "
        f"{Term.objects.count():,} terms, {Account.objects.count():,} sign-ins, "
        f"{restored.archives} archives of closed terms.",
    ]
    if restored.aside:
        lines.append(f"What was here before is kept as {restored.aside}.")
    return [*lines, "Everybody signs in again where the secret key is another."]

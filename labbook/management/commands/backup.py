"""Back the record up while it is in use; for a timer or cron."""

from __future__ import annotations

from argparse import ArgumentParser
from contextlib import suppress
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError

from labbook.actions.upkeep import note_upkeep
from labbook.exchange.backups.making import Backup, make_backup
from labbook.exchange.backups.rotation import Keeping, remove_old
from labbook.models import Upkeep
from labbook.problems import Refused
from labbook.typesetting.sizes import written_size

NOT_WHOLE, NOT_MADE = 1, 2


class Command(BaseCommand):
    help = (
        "Writes all of the record into one file, while it is in use, and verifies what was "
        "written. Older backups go by the days, weeks and months to keep. Exit code 1 when the "
        "record itself does not verify (it is kept all the same), 2 when no backup was made."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--to", type=Path, default=settings.BACKUPS, metavar="DIR",
            help="folder of the backups, better on another disk (default: beside the database)",
        )  # fmt: skip
        kept = Keeping()
        for name in ("daily", "weekly", "monthly"):
            parser.add_argument(
                f"--keep-{name}", type=int, default=getattr(kept, name), metavar="N",
                help=f"newest {name} backups that stay (default {getattr(kept, name)})",
            )  # fmt: skip

    def handle(self, *, to: Path, **options: Any) -> None:
        keeping = Keeping(*(options[f"keep_{name}"] for name in ("daily", "weekly", "monthly")))
        if keeping.daily < 1 or keeping.weekly < 0 or keeping.monthly < 0:
            raise CommandError("At least one day's backup has to stay.", returncode=NOT_MADE)
        try:
            made = make_backup(to.resolve())
        except Refused as refused:
            # A full disk, or tables that are missing, take no note either.
            with suppress(DatabaseError):
                note_upkeep(Upkeep.Kind.BACKUP, str(refused), is_fine=False, by=None)
            raise CommandError(f"No backup was made. {refused}", returncode=NOT_MADE) from refused
        _note(made)
        self.stdout.write(f"{made.file}  {written_size(made.size)}  SHA-256 {made.sha256}")
        self.stdout.write(_told(made))
        if not made.manifest.whole:
            raise CommandError(
                "The record does not verify; older backups all stay. See “manage.py verify”.",
                returncode=NOT_WHOLE,
            )
        for gone in remove_old(made.file.parent, keeping):
            self.stdout.write(f"Removed {gone.name}")


def _note(made: Backup) -> None:
    details = {
        "folder": str(made.file.parent),
        "file": made.file.name,
        "size": made.size,
        "sha256": made.sha256,
        "heads": made.manifest.heads,
        "database_bytes": made.database_bytes,
        "tried": made.manifest.tried,
    }
    note_upkeep(
        Upkeep.Kind.BACKUP, _told(made), is_fine=made.manifest.whole, by=None, details=details
    )


def _told(made: Backup) -> str:
    """“1,204 rows of evidence in 31 books, read back and verified.”"""
    counted = f"{made.manifest.links:,} rows of evidence in {made.manifest.books:,} books"
    if not made.manifest.whole:
        first = made.found.breaks[0]
        return f"{counted}. {first.where}: {first.sentence}"
    if not made.manifest.tried:
        return (
            f"{counted} verify. The file was read back but not restored in trial: this account "
            "may make no database for that (ALTER ROLE … CREATEDB)."
        )
    return f"{counted}, read back and verified."

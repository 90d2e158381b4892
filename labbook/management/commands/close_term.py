"""Close a term from the command line, or see what stands against it."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from labbook.actions.terms import archives, close_term
from labbook.problems import Refused
from labbook.problems.terms import with_closing

from .roster import coordinator_named, term_named


class Command(BaseCommand):
    help = "Closes a term and keeps its archive. With --dry-run: says what is still open."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("term", metavar="T", help="the term's name")
        parser.add_argument("--dry-run", action="store_true", help="change nothing")
        parser.add_argument(
            "--by", default="", help="sign-in name of the coordinator who stands for it"
        )

    def handle(self, *, term: str, dry_run: bool, by: str, **options: Any) -> None:
        found = term_named(term)
        for problem in with_closing(found):
            self.stdout.write(problem.sentence)
        if dry_run:
            return
        try:
            closing = close_term(found, by=coordinator_named(by))
        except Refused as refused:
            raise CommandError("Not closed.", returncode=1) from refused
        self.stdout.write(f"{archives() / closing.archive_name}  SHA-256 {closing.archive_sha256}")

"""Reveal the samples whose day has come, for cron."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.exceptions import PermissionDenied
from django.core.management.base import BaseCommand, CommandError

from labbook.actions.samples import reveal_sample
from labbook.lookups.samples import due_samples, who_dated
from labbook.models import Account, Sample


class Command(BaseCommand):
    help = "Reveals every sample whose day has come and reduces its runs with their identity."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--by", default="", help="sign-in name that stands for it; default: who set the day"
        )
        parser.add_argument(
            "--dry-run", action="store_true", help="say what is due, reveal nothing"
        )

    def handle(self, *, by: str, dry_run: bool, **options: Any) -> None:
        due, left = list(due_samples()), []
        if not due:
            self.stdout.write("No sample is due.")
        for sample in due:
            words = f"{sample} of {sample.term}, due {sample.reveal_on:%-d %B %Y}"
            if dry_run:
                self.stdout.write(f"Due: {words}.")
            elif self._reveal(sample, by):
                self.stdout.write(f"Revealed: {words}.")
            else:
                left.append(words)
        if left:
            raise CommandError(
                f"Not revealed: {'; '.join(left)}. Nobody who may reveal stands for it: name a "
                "coordinator's sign-in with --by."
            )

    def _reveal(self, sample: Sample, by: str) -> bool:
        """Whether somebody stood for it. The identity is never printed: this output is logged."""
        account = Account.objects.filter(username=by).first() if by else who_dated(sample)
        if account is None:
            return False
        try:
            reveal_sample(sample, by=account)
        except PermissionDenied:
            return False
        return True

"""Whether the archive of a term is whole, and the one made at its closing."""

from __future__ import annotations

import hashlib
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from labbook.exchange.archives import faults_in
from labbook.models import TermClosing


class Command(BaseCommand):
    help = (
        "Checks every file of a term's archive against its checksums. Exit code 1 when it is not "
        "whole; whether it is the one made at a closing of this record is said too."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE")

    def handle(self, *, file: Path, **options: Any) -> None:
        try:
            content = file.read_bytes()
        except OSError as error:
            raise CommandError(f"{file} cannot be read: {error.strerror}.", returncode=2) from error
        faults = faults_in(content)
        for sentence in faults:
            self.stdout.write(sentence)
        sha256 = hashlib.sha256(content).hexdigest()
        closing = TermClosing.objects.filter(archive_sha256=sha256).first()
        self.stdout.write(
            f"It is the archive made at the {closing}."
            if closing
            else "No closing in this record made this file."
        )
        if faults:
            sys.exit(1)
        self.stdout.write("Every file is as it was written.")

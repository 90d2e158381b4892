"""The data set of a term or a bench, from the command line."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from labbook.exchange.open_data.archive import write_open_data
from labbook.lookups.open_data import Scope
from labbook.models import Bench
from labbook.problems.open_data import with_publishing

from .roster import term_named


class Command(BaseCommand):
    help = (
        "Writes a term's or a bench's runs, results and heat-capacity histories as tables that are "
        "described for programs, in one archive without names."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        of = parser.add_mutually_exclusive_group(required=True)
        of.add_argument("--term", metavar="T", help="the term's name")
        of.add_argument("--bench", metavar="B", help="the bench's code")
        parser.add_argument("--to", required=True, type=Path, metavar="FILE", help="zip to write")
        parser.add_argument(
            "--without-readings", action="store_true", help="leave the readings' table out"
        )

    def handle(
        self, *, term: str | None, bench: str | None, to: Path, without_readings: bool, **_: Any
    ) -> None:
        scope = Scope(term=term_named(term)) if term else Scope(bench=_bench(bench or ""))
        problems = with_publishing(scope)
        for problem in problems:
            self.stderr.write(problem.sentence)
        if any(problem.severity == "B" for problem in problems):
            raise CommandError("Nothing was written.", returncode=1)
        try:
            with to.open("wb") as file:
                made = write_open_data(scope, file, with_readings=not without_readings)
        except OSError as error:
            raise CommandError(f"{to}: {error.strerror}. Name a file to write.") from error
        for name, one in made.items():
            self.stdout.write(f"{one.size:>10} bytes  {one.rows or '':>8}  {name}")


def _bench(code: str) -> Bench:
    found = Bench.objects.filter(code=code).first()
    if found is None:
        there = ", ".join(Bench.objects.values_list("code", flat=True)) or "none yet"
        raise CommandError(f"There is no bench {code!r}. Benches are: {there}.", returncode=2)
    return found

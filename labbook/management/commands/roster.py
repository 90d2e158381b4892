"""Take in a roster from the command line, or see what it would change."""

from __future__ import annotations

import hashlib
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from labbook.actions.rosters import apply_roster
from labbook.intake.rosters import (
    FILES,
    Roster,
    RosterUnreadable,
    read_one_roster,
    read_roster,
)
from labbook.lookups.roster_changes import USUAL_PLACES, Kind, Options, RosterPlan
from labbook.lookups.rosters import plan_roster
from labbook.models import Account, Role, Term
from labbook.problems import Refused

WORDS: dict[Kind, str] = {"add": "add", "move": "move", "rename": "correct", "drop": "drop"}


class Command(BaseCommand):
    help = (
        "Prints what a roster adds, moves, corrects and drops, and its bad rows by line; takes it "
        "in unless --dry-run. Exit code 0: all of it; 1: some rows are bad; 2: nothing was done."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE", help="CSV, a zip, or a folder")
        parser.add_argument("--term", required=True, metavar="T", help="the term's name")
        parser.add_argument("--dry-run", action="store_true", help="change nothing")
        parser.add_argument("--make", action="store_true", help="make missing sections and groups")
        parser.add_argument(
            "--keep-missing", action="store_true", help="drop nobody who is not on the roster"
        )
        parser.add_argument("--places", type=int, default=USUAL_PLACES, help="most in a group")
        parser.add_argument(
            "--by", default="", help="sign-in name of the coordinator who stands for it"
        )

    def handle(self, *, file: Path, term: str, dry_run: bool, **options: Any) -> None:
        found = term_named(term)
        try:
            content, roster = _read(file)
        except RosterUnreadable as unreadable:
            raise CommandError(f"{file}: {unreadable}", returncode=2) from unreadable
        chosen = Options(options["make"], not options["keep_missing"], options["places"])
        plan = plan_roster(found, roster, chosen)
        self._print(plan)
        if not dry_run and not plan.is_empty:
            self._apply(plan, roster, file.name, content, options["by"])
        if plan.bad:
            sys.exit(1)

    def _print(self, plan: RosterPlan) -> None:
        for name in plan.new_sections:
            self.stdout.write(f"make section {name}")
        for section, code in plan.new_groups:
            self.stdout.write(f"make group {code} of {section}")
        for kind, word in WORDS.items():
            for change in plan.of_kind(kind):
                before = f" (before: {change.was})" if change.was and kind != "drop" else ""
                place = f"{change.section}, {change.group}"
                self.stdout.write(f"{word} {change.name}: {place}{before}")
        for change in plan.held_back:
            place = f"{change.section}, {change.group}"
            self.stdout.write(f"not dropped {change.name}: {place}; a bad row may be theirs")
        for row in plan.bad:
            self.stdout.write(f"bad row, {row.where}: {row.seen}. Expected: {row.expected}")
        for remark in plan.remarks:
            self.stdout.write(remark)
        self.stdout.write(", ".join(f"{count} {what}" for what, count in plan.counts.items()))

    def _apply(self, plan: RosterPlan, roster: Roster, name: str, content: bytes, by: str) -> None:
        sha256 = hashlib.sha256(content).hexdigest()
        account = coordinator_named(by)
        try:
            apply_roster(
                plan.term, roster, plan.options, seen=plan.seen, name=name, sha256=sha256,
                by=account,
            )  # fmt: skip
        except Refused as refused:
            raise CommandError(str(refused), returncode=2) from refused
        self.stdout.write("Taken in.")


def term_named(name: str) -> Term:
    found = Term.objects.filter(name=name).first()
    if found is None:
        there = ", ".join(Term.objects.values_list("name", flat=True)) or "none yet"
        raise CommandError(f"There is no term {name!r}. Terms are: {there}.", returncode=2)
    return found


def _read(file: Path) -> tuple[bytes, Roster]:
    """The roster, and the bytes its checksum is taken over; of a folder, its files in order."""
    try:
        if not file.is_dir():
            content = file.read_bytes()
            return content, read_roster(content)
        files = {name: (file / name).read_bytes() for name in FILES if (file / name).is_file()}
    except OSError as error:
        raise CommandError(f"{file} cannot be read: {error.strerror}.", returncode=2) from error
    return b"".join(files.values()), read_one_roster(files)


def coordinator_named(name: str) -> Account:
    coordinators = Account.objects.filter(role=Role.COORDINATOR, is_active=True)
    found = coordinators.filter(username=name.lower()) if name else coordinators
    if found.count() != 1:
        sentence = "Name the coordinator who stands for it with --by, by the sign-in name."
        raise CommandError(sentence, returncode=2)
    return found.get()

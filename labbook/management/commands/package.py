"""The package of what a group handed in, from the command line."""

from __future__ import annotations

import hashlib
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from labbook.exchange.package.contents import package
from labbook.exchange.package.delivery import delivery_of
from labbook.lookups.handing_in import package_name
from labbook.models import Account, Group, HandIn


class Command(BaseCommand):
    help = "Writes the package of a group's hand-in: its sheets, readings, working and results."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("group", help="code of the group, or its number")
        parser.add_argument("--to", required=True, type=Path, metavar="DIR", help="folder to fill")
        parser.add_argument("--version", type=int, dest="number", help="the newest when not given")
        parser.add_argument("--term", help="name of the term, where codes come again")
        parser.add_argument(
            "--for-group", action="store_true", help="only what the group itself may see by now"
        )

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> Any:
        """Here --version names the hand-in's, not Django's."""
        return super().create_parser(prog_name, subcommand, conflict_handler="resolve", **kwargs)

    def handle(self, *, group: str, to: Path, number: int | None, **options: Any) -> None:
        found = _hand_in(_group(group, options["term"]), number)
        reader = Account.objects.filter(group=found.group).first() if options["for_group"] else None
        if options["for_group"] and reader is None:
            raise CommandError(f"Group {found.group} has no sign-in, so there is nothing it sees.")
        made = package(delivery_of(found, reader))
        try:
            to.mkdir(parents=True, exist_ok=True)
            path = to / package_name(found)
            path.write_bytes(made)
        except OSError as error:
            raise CommandError(f"{to}: {error.strerror}. Name a folder to write to.") from error
        self.stdout.write(f"{hashlib.sha256(made).hexdigest()}  {path}")


def _group(text: str, term: str | None) -> Group:
    groups = Group.objects.filter(code=text).select_related("section__term")
    if term is not None:
        groups = groups.filter(section__term__name=term)
    found = list(groups[:2])
    if not found and text.isdecimal():
        found = list(Group.objects.filter(pk=int(text)))
    if not found:
        raise CommandError(f"There is no group “{text}”" + (f" in {term}." if term else "."))
    if len(found) > 1:
        raise CommandError(f"There are several groups “{text}”: name the --term as well.")
    return found[0]


def _hand_in(group: Group, number: int | None) -> HandIn:
    versions = group.hand_ins.all()
    found = versions.filter(version=number).first() if number is not None else versions.first()
    if found is None:
        named = "nothing" if number is None else f"no version {number}"
        raise CommandError(f"Group {group} has handed in {named}.")
    return found

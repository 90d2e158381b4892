"""Build the demonstration laboratory where there is none yet, and serve it on this machine."""

from __future__ import annotations

import errno
import socket
import sys
from argparse import ArgumentParser
from collections.abc import Iterable, Sequence
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.core.servers.basehttp import get_internal_wsgi_application
from django.core.servers.basehttp import run as serve_forever
from django.db import OperationalError, connection, transaction
from tqdm import tqdm

from labbook import clock
from labbook.demonstration.build import Slot, build
from labbook.demonstration.scenario import Plan, Scenario
from labbook.demonstration.sign_ins import SignIn, day_built, sign_ins
from labbook.demonstration.standing import holds_demonstration, holds_records, made_by_others
from labbook.guards import without_guards

ADDRESS, REFUSED = "127.0.0.1", 2
DATABASE = settings.DATABASES["default"]["NAME"]


class Refused(CommandError):
    """Something stands against it; the name is printed before the sentence."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence, returncode=REFUSED)


class Command(BaseCommand):
    help = "Builds an invented laboratory in an empty database, lists its sign-ins and serves it."
    plan = Plan()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--port", type=int, default=8000, help=f"port on {ADDRESS} (default 8000)"
        )
        parser.add_argument(
            "--no-serve", action="store_true", help="build and list the sign-ins only"
        )
        parser.add_argument(
            "--fresh",
            action="store_true",
            help="build the demonstration anew; never touches another laboratory",
        )

    def handle(self, *, port: int, no_serve: bool, fresh: bool, **options: Any) -> None:
        if not no_serve:
            _require_free(port)
        scenario = Scenario()
        try:
            self._make_ready(scenario, fresh)
        except OperationalError as error:
            raise Refused(
                f"{DATABASE} could not be written: {error}. Perhaps another demonstration is "
                "being built there just now: wait until it is, then start again."
            ) from error
        self._introduce(scenario, port, no_serve)
        if not no_serve:
            self._serve(port)

    def _make_ready(self, scenario: Scenario, fresh: bool) -> None:
        if not holds_demonstration():
            _refuse_other_laboratory()
            call_command("migrate", verbosity=0, interactive=False)
            self._build()
            return
        call_command("migrate", verbosity=0, interactive=False)
        if fresh:
            _refuse_if_extended(scenario)
            self._build(instead=True)

    def _build(self, *, instead: bool = False) -> None:
        """In one transaction: an interrupted build leaves what was there before."""
        try:
            with transaction.atomic():
                if instead:
                    _empty()
                elif holds_demonstration():
                    return  # somebody else's build was being written until now
                build(self.plan, clock.now(), _follow)
        except KeyboardInterrupt:
            raise CommandError("Interrupted: nothing was kept.", returncode=130) from None

    def _introduce(self, scenario: Scenario, port: int, no_serve: bool) -> None:
        facts = scenario.laboratory
        self.stdout.write(
            f"\n{facts['college']}, {facts['course']}: a demonstration laboratory. "
            "Its people, benches and readings are invented.\n"
        )
        for line in _table(sign_ins(scenario)):
            self.stdout.write(line)
        if day_built() < clock.today():
            self.stdout.write(
                f"\nIts present is {day_built():%-d %B %Y}, the day it was built. For an afternoon "
                "going on now, build it anew: manage.py demo --fresh\n"
            )
        if no_serve:
            self.stdout.write("\nServe it with: manage.py demo\n")
        else:
            self.stdout.write(f"\nhttp://{ADDRESS}:{port}/   (Ctrl-C ends it)\n")
        self.stdout.flush()

    def _serve(self, port: int) -> None:
        try:
            serve_forever(ADDRESS, port, get_internal_wsgi_application(), threading=True)
        except KeyboardInterrupt:
            self.stdout.write("")
        except OSError as error:
            raise _port_refusal(port, error) from error


def _empty() -> None:
    """Take the demonstration away, its evidence too: it is nobody's record."""
    connection.check_constraints()  # PostgreSQL empties no table that has checks outstanding
    with without_guards():
        call_command("flush", verbosity=0, interactive=False)


def _follow(slots: Sequence[Slot]) -> Iterable[Slot]:
    progress: Iterable[Slot] = tqdm(
        slots,
        desc="Building the laboratory, afternoon by afternoon",
        unit="",
        file=sys.stderr,
        mininterval=0.3,
    )
    return progress


def _require_free(port: int) -> None:
    """Refuse a port before anything is built, not after."""
    if not 1 <= port <= 65535:
        raise Refused(f"Port {port} was given; a number from 1 to 65535 was expected.")
    try:
        with socket.socket() as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind((ADDRESS, port))
    except OSError as error:
        raise _port_refusal(port, error) from error


def _port_refusal(port: int, error: OSError) -> Refused:
    if error.errno == errno.EADDRINUSE:
        return Refused(
            f"Port {port} is in use by another program, perhaps by a demonstration started "
            f"earlier. End that one, or choose another: manage.py demo --port {port + 1}"
        )
    return Refused(f"Port {port} cannot be used: {error.strerror}. Choose another with --port.")


def _refuse_other_laboratory() -> None:
    if holds_records():
        raise Refused(
            f"{DATABASE} holds a laboratory that this command did "
            "not make; it was left as it is. For the demonstration name another data folder: "
            "LABBOOK_DATA=demo-data manage.py demo"
        )


def _refuse_if_extended(scenario: Scenario) -> None:
    added = made_by_others(scenario)
    if added:
        named = ", ".join(added[:3]) + (" and more" if len(added) > 3 else "")
        raise Refused(
            f"{len(added)} set-up records were added to the demonstration by hand ({named}); "
            "building anew would lose them, so nothing was changed. Leave --fresh out, or name "
            "another data folder: LABBOOK_DATA=demo-data manage.py demo"
        )


def _table(rows: Sequence[SignIn]) -> Iterable[str]:
    heads = ("sign-in", "password", "role", "what is waiting there")
    cells = [heads, *((row.name, row.password, row.role, row.waiting) for row in rows)]
    widths = [max(len(row[column]) for row in cells) for column in range(len(heads))]
    for number, row in enumerate(cells):
        line = "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        yield line.rstrip()
        if number == 0:
            yield "  ".join("─" * width for width in widths)

"""Show what would be understood of a logger file, for trying a new logger."""

import json
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from labbook.intake import Choices, Preview, Question, Refusal, preview
from labbook.intake.decoding import MAX_BYTES
from labbook.intake.table import DELIMITER_NAMES

REFUSED, UNDECIDED = 2, 3
SHOWN = 10


class Command(BaseCommand):
    help = (
        "Read a logger file and print what was understood. "
        "Exit code 0: understood; 2: refused, the reason on stderr; 3: questions are open."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", help="the logger file")
        parser.add_argument("--json", action="store_true", help="print JSON")
        parser.add_argument(
            "--choose",
            action="append",
            default=[],
            metavar="ITEM=VALUE",
            help="settle an item, such as day_first=yes or temperature_column=T1",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            choices = _choices(options["choose"])
            found = preview(_bytes_of(options["file"]), choices=choices)
        except Refusal as refusal:
            self.stderr.write(refusal.sentence)
            for line in refusal.first_rows:
                self.stderr.write(f"  {line}")
            sys.exit(REFUSED)
        if options["json"]:
            self.stdout.write(json.dumps(found.as_dict()))
        else:
            self._print(found)
        if found.questions:
            sys.exit(UNDECIDED)

    def _print(self, found: Preview) -> None:
        facts = {
            "encoding": found.encoding,
            "delimiter": DELIMITER_NAMES[found.delimiter],
            "decimal": {".": "point", ",": "comma"}.get(found.decimal or "", "not known yet"),
            "time": _column(found.time_column, found.time),
            "temperature": _column(found.temperature_column, found.unit),
            "begins": _begins(found),
            "rows": found.rows,
            "SHA-256": found.sha256,
        }
        for name, fact in facts.items():
            self.stdout.write(f"{name:<12} {fact}")
        for remark in found.remarks:
            self.stdout.write(f"note         {remark}")
        self._print_some("left out", [f"line {x.line}: {x.why}" for x in found.left_out])
        self._print_some("readings", [f"{t:>10.3f} s {c:>10.4f} °C" for t, c in found.readings])
        for question in found.questions:
            self._print_question(question)

    def _print_some(self, title: str, lines: list[str]) -> None:
        if lines:
            self.stdout.write(f"{title}: {len(lines)}")
        for line in lines[:SHOWN]:
            self.stdout.write(f"  {line}")
        if len(lines) > SHOWN:
            self.stdout.write(f"  and {len(lines) - SHOWN} more")

    def _print_question(self, question: Question) -> None:
        self.stdout.write(f"? {question.sentence}")
        for option in question.choices:
            self.stdout.write(f"  --choose '{question.code}={option.value}'  {option.words}")


def _choices(pairs: list[str]) -> Choices:
    items: dict[str, object] = {}
    for pair in pairs:
        name, equals, value = pair.partition("=")
        if not equals:
            raise Refusal(f"“{pair}” is no choice. Expected ITEM=VALUE, such as decimal=comma.")
        items[name.strip()] = value
    return Choices.from_dict(items)


def _bytes_of(name: str) -> bytes:
    """The file's bytes, one more than the limit at most; a name that cannot be read is refused."""
    try:
        with Path(name).open("rb") as file:
            return file.read(MAX_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else str(error)
        raise Refusal(f"{name} cannot be read: {reason}. Expected the name of a file.") from None


def _column(column: str | None, form: str | None) -> str:
    return f"{form or 'not known yet'} (column {column})" if column else "not known yet"


def _begins(found: Preview) -> str:
    if found.first_clock:
        return found.first_clock
    return "not known yet" if found.first_time_s is None else f"{found.first_time_s:g} s"

"""Where a reading came from: what was typed and by whom, or the bytes of the file."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from ..intake.lines import LineOfFile, lines_around
from ..models import Account, Link, LoggerFile, Person, ReadingBlock, Run
from .readings import WrittenReading, as_written


@dataclass(frozen=True)
class InFile:
    """The line of a kept file that gave a reading, between its neighbours."""

    file: LoggerFile
    lines: tuple[LineOfFile, ...]
    line: int

    @property
    def place(self) -> LineOfFile | None:
        return next((one for one in self.lines if one.line == self.line), None)


@dataclass(frozen=True)
class Origin:
    """One reading as it stands, and everything kept about how it came.

    ``first`` is the row it was first written to; ``link`` that row's place in the run's chain.
    """

    reading: WrittenReading
    first: ReadingBlock
    link: Link | None
    came_at: datetime
    typed_at: datetime | None
    account: Account
    person: Person | None
    sent: dict[str, Any]
    in_file: InFile | None
    previous: int | None
    following: int | None


def origin_of(run: Run, number: int) -> Origin | None:
    """None where the run has no reading of this number."""
    written = {reading.number: reading for reading in as_written(run)}
    first = _first_row(run, number)
    if number not in written or first is None:
        return None
    detail = first.read_details()[number - first.first_number]
    return Origin(
        reading=written[number],
        first=first,
        link=Link.objects.select_related("book")
        .filter(kind="readingblock", record=first.pk)
        .first(),
        came_at=_moment(detail.get("at")) or first.at,
        typed_at=_moment(detail.get("typed_at")),
        account=Account.objects.get(pk=detail.get("account", first.by_id)),
        person=Person.objects.filter(pk=detail.get("person")).first(),
        sent={
            key: detail[key] for key in ("series", "seq", "clock", "value", "unit") if key in detail
        },
        in_file=_in_file(first, detail.get("line")),
        previous=number - 1 if number - 1 in written else None,
        following=number + 1 if number + 1 in written else None,
    )


def _first_row(run: Run, number: int) -> ReadingBlock | None:
    """The oldest row that holds the reading: folding only copies."""
    rows = ReadingBlock._base_manager.filter(run=run, first_number__lte=number).order_by("pk")
    return next(
        (
            row
            for row in rows.select_related("file", "device")
            if number < row.first_number + row.count
        ),
        None,
    )


def _moment(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)


def _in_file(row: ReadingBlock, line: int | None) -> InFile | None:
    if row.file is None:
        return None
    if line is None:  # taken before the line was kept with each reading
        return InFile(row.file, (), 0)
    encoding = (row.read_as or {}).get("encoding", "utf-8")
    return InFile(row.file, lines_around(bytes(row.file.content), encoding, line), line)

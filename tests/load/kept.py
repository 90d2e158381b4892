"""What the record holds of what was written by ``writers``, counted item by item, and whether
anything in it is half done. Read past the server, while none runs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterator
from typing import Any

from django.db import connection
from django.db.models import F, Model, OuterRef, Subquery

from labbook.models import (
    Book,
    Decision,
    HandFigure,
    LoggerFile,
    ReadingBlock,
    Result,
    Run,
    SheetEntry,
    Standardization,
)
from labbook.models.evidence import Evidence

Items = Counter[Hashable]


class Kept:
    """The items of each kind, of the rows that came after those of the setting-up."""

    def __init__(self) -> None:
        self.after = {
            model: model._base_manager.order_by("-pk").values_list("pk", flat=True).first() or 0
            for model in (Decision, HandFigure, LoggerFile, ReadingBlock, SheetEntry)
        }

    def _rows(self, model: type[Evidence], **wanted: Any) -> Any:
        newer = model._base_manager.filter(pk__gt=self.after[model], **wanted)
        return newer.order_by("pk")

    def by_kind(self) -> dict[str, Items]:
        return {
            "typed readings": Counter(self._typed()),
            "device readings": Counter(self._sent_by_device()),
            "figures": Counter(self._rows(SheetEntry).values_list("run", "field", "text")),
            "hand figures": Counter(self._rows(HandFigure).values_list("run", "key", "text")),
            "files": Counter(self._rows(LoggerFile).values_list("run", "sha256")),
            "files used": Counter(self._blocks("file").values_list("run", "file__sha256")),
            "decisions": Counter(self._decisions()),
        }

    def _blocks(self, source: str) -> Any:
        return self._rows(ReadingBlock, source=source)

    def _typed(self) -> Iterator[Hashable]:
        for block in self._blocks("typed"):
            yield block.page_key, block.read_details()[0]["temperature"]

    def _sent_by_device(self) -> Iterator[Hashable]:
        for block in self._blocks("device").filter(folded_at=None):
            for detail in block.read_details():
                yield detail["seq"], detail["value"]

    def _decisions(self) -> Iterator[Hashable]:
        counts = Counter[tuple[str, str]]()
        for row in self._rows(Decision):
            subject = row.run or row.standardization
            about = f"{subject._meta.model_name} {subject.pk}"
            counts[about, row.deed] += 1
            yield about, row.deed, counts[about, row.deed], row.reason


def half_done() -> list[str]:
    """Things that an action writes together and of which only some are there."""
    found = [f"{one}: its state is not that of its last decision" for one in _states_astray()]
    found += [f"{run}: readings are not numbered 1, 2, 3 …" for run in _gaps()]
    newest = Run.objects.annotate(newest=Subquery(_newest_result())).exclude(result=F("newest"))
    found += [f"{run}: it does not show its newest result" for run in newest.exclude(newest=None)]
    unlinked = [book for book in Book.objects.all() if book.links.count() != book.length]
    return found + [f"{book}: its length is not that of its links" for book in unlinked]


def _newest_result() -> Any:
    return Result.objects.filter(run=OuterRef("pk")).order_by("-pk").values("pk")[:1]


def _states_astray() -> Iterator[Model]:
    for model in (Run, Standardization):
        for one in model._default_manager.all():
            last = one.decisions.order_by("pk").exclude(deed="unlocked").last()
            if last is not None and last.new != one.state:
                yield one


def _gaps() -> Iterator[Run]:
    for run in Run.objects.all():
        following = 1
        for first, count in run.blocks.order_by("first_number").values_list(
            "first_number", "count"
        ):
            if first != following:
                yield run
                break
            following += count


def file_is_sound() -> str:
    """What SQLite says of its own file; PostgreSQL keeps checks of its own."""
    if connection.vendor != "sqlite":
        return "ok"
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA integrity_check")
        return str(cursor.fetchone()[0])

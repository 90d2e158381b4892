"""A run's sheet as it stands, with the struck-out entries behind each figure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from decimal import Decimal

from ..intake.figures import read_figure, read_moment
from ..models import Run, SheetEntry
from ..sheet import FIELDS


class Sheet:
    """The entries of one run. ``current`` holds the newest of each field."""

    def __init__(self, run: Run, entries: Iterable[SheetEntry] | None = None) -> None:
        self.run = run
        by_field: dict[str, list[SheetEntry]] = defaultdict(list)
        if entries is None:
            entries = run.entries.select_related("by", "entered_by")
        for entry in entries:
            by_field[entry.field].append(entry)
        self.current = {field: entries[-1] for field, entries in by_field.items()}
        self.earlier = {field: entries[:-1] for field, entries in by_field.items()}

    def text(self, field: str) -> str:
        entry = self.current.get(field)
        return entry.text if entry else ""

    def number(self, field: str) -> Decimal | None:
        """The figure as a number; None while the field is empty."""
        text = self.text(field)
        if not text:
            return None
        if FIELDS[field].reader == "moment":
            return read_moment(text)
        return read_figure(text).value

    def difference(self, larger: str, smaller: str) -> Decimal | None:
        """One figure minus another, exact to the digits typed; None while either is missing."""
        first, second = self.number(larger), self.number(smaller)
        return None if first is None or second is None else first - second

    def all_of(self, field: str) -> list[SheetEntry]:
        """Every entry of a field, the one that counts last."""
        current = self.current.get(field)
        return [] if current is None else [*self.earlier[field], current]

    @property
    def charge_g(self) -> Decimal | None:
        return self.difference("charge_gross_g", "charge_tare_g")

    @property
    def bucket_water_g(self) -> Decimal | None:
        return self.difference("bucket_gross_g", "bucket_tare_g")

    @property
    def fuse_used(self) -> Decimal | None:
        return self.difference("fuse_before", "fuse_left")


def sheets_of(runs: Iterable[Run]) -> list[Sheet]:
    """The sheets of many runs, asked for at once."""
    runs = list(runs)
    entries: dict[int, list[SheetEntry]] = {run.pk: [] for run in runs}
    for entry in SheetEntry.objects.filter(run__in=runs).select_related("by", "entered_by"):
        entries[entry.run_id].append(entry)
    return [Sheet(run, entries[run.pk]) for run in runs]


def newest_entry_id(run: Run) -> int:
    return run.entries.order_by("-pk").values_list("pk", flat=True).first() or 0

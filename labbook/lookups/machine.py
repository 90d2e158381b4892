"""The machine the record runs on: room on its disk, the size of its database, its clock."""

from __future__ import annotations

import ctypes
import shutil
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.db.models import Max
from django.utils import timezone

from ..models import Decision, SheetEntry, Upkeep

# adjtimex(2), ntp_gettime(3): what the state is while nothing keeps the clock.
NOT_KEPT = 5
LATELY = 500  # rows of each kind


def database_bytes() -> int:
    """How much room the database takes, SQLite's write-ahead log included."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_database_size(current_database())")
            return int(cursor.fetchone()[0])
    file = Path(connection.settings_dict["NAME"])
    parts = (file, file.with_name(f"{file.name}-wal"))
    return sum(part.stat().st_size for part in parts if part.exists())


@dataclass(frozen=True)
class Room:
    free: int
    total: int

    @property
    def share(self) -> float:
        return self.free / self.total if self.total else 0.0


def room_on_disk(folder: Path | None = None) -> Room:
    usage = shutil.disk_usage(folder or settings.DATA_DIR)
    return Room(usage.free, usage.total)


@dataclass(frozen=True)
class Growth:
    """How the database grew between two backups: the newest, and the oldest of the last year."""

    bytes_a_day: float
    days: float


SHORTEST = timedelta(days=6)


def growth() -> Growth | None:
    """None until two backups lie a week apart: before, a rate would be a guess."""
    since = timezone.now() - timedelta(days=365)
    backups = Upkeep.objects.filter(
        kind=Upkeep.Kind.BACKUP, at__gte=since, details__has_key="database_bytes"
    ).order_by("at")
    first, last = backups.first(), backups.last()
    if first is None or last is None or last.at - first.at < SHORTEST:
        return None
    days = (last.at - first.at) / timedelta(days=1)
    grown = last.details["database_bytes"] - first.details["database_bytes"]
    return Growth(grown / days, days)


class _Gotten(ctypes.Structure):
    """glibc's struct ntptimeval."""

    _fields_ = [
        ("seconds", ctypes.c_long),
        ("microseconds", ctypes.c_long),
        ("largest_error_us", ctypes.c_long),
        ("estimated_error_us", ctypes.c_long),
        ("rest", ctypes.c_long * 8),
    ]


def is_clock_kept() -> bool | None:
    """Whether a time service keeps this machine's clock; None where the system does not say."""
    try:
        state = ctypes.CDLL(None).ntp_gettime(ctypes.byref(_Gotten()))
    except (OSError, AttributeError):
        return None
    return None if state < 0 else state != NOT_KEPT


def database_clock_ahead_s() -> float | None:
    """How far PostgreSQL's clock is ahead of this process's; SQLite has none of its own."""
    if connection.vendor != "postgresql":
        return None
    with connection.cursor() as cursor:
        before = datetime.now(UTC)
        cursor.execute("SELECT clock_timestamp()")
        theirs: datetime = cursor.fetchone()[0]
        after = datetime.now(UTC)
    return (theirs - (before + (after - before) / 2)).total_seconds()


def newest_stamp() -> datetime | None:
    """The latest moment that anything written lately was stamped with.

    Not of the last row alone: after the clock went back, rows with earlier stamps follow.
    """
    newest = [
        rows.order_by("-pk").values("at")[:LATELY].aggregate(latest=Max("at"))["latest"]
        for rows in (SheetEntry.objects, Decision.objects, Upkeep.objects)
    ]
    return max((moment for moment in newest if moment is not None), default=None)

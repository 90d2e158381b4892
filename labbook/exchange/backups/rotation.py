"""Which backups stay: the newest of each of the last days, weeks and months that have one."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

NAME = re.compile(r"record-(\d{8}T\d{6}Z)\.zip")
STAMP = "%Y%m%dT%H%M%SZ"


@dataclass(frozen=True)
class Keeping:
    """How many days, weeks and months keep a backup each."""

    daily: int = 14
    weekly: int = 8
    monthly: int = 24


def name_at(moment: datetime) -> str:
    return f"record-{moment.astimezone(UTC).strftime(STAMP)}.zip"


def backups_in(folder: Path) -> dict[Path, datetime]:
    """The backups of a folder with the moment each was begun; nothing else that lies there."""
    found = {}
    for file in folder.glob("record-*.zip"):
        named = NAME.fullmatch(file.name)
        if named:
            found[file] = datetime.strptime(named[1], STAMP).replace(tzinfo=UTC)
    return found


def to_keep(moments: Iterable[datetime], keeping: Keeping) -> set[datetime]:
    """The newest always; and of each last day, week and month the newest in it."""
    newest_first = sorted(moments, reverse=True)
    kept = set(newest_first[:1])
    periods: tuple[tuple[int, Callable[[datetime], object]], ...] = (
        (keeping.daily, lambda moment: moment.date()),
        (keeping.weekly, lambda moment: moment.isocalendar()[:2]),
        (keeping.monthly, lambda moment: (moment.year, moment.month)),
    )
    for count, period_of in periods:
        newest: dict[object, datetime] = {}
        for moment in newest_first:
            newest.setdefault(period_of(moment), moment)
        kept.update(list(newest.values())[:count])
    return kept


def remove_old(folder: Path, keeping: Keeping) -> list[Path]:
    """Remove the backups that need not stay; say which."""
    backups = backups_in(folder)
    kept = to_keep(backups.values(), keeping)
    gone = sorted(file for file, moment in backups.items() if moment not in kept)
    for file in gone:
        file.unlink()
    return gone

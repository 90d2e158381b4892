"""The moment a change is stamped with.

It is the present, except while records of a past afternoon are written for the demonstration
laboratory, which tells its own time with ``at``.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date, datetime

from django.utils import timezone

_told: ContextVar[datetime | None] = ContextVar("told", default=None)


def now() -> datetime:
    return _told.get() or timezone.now()


def today() -> date:
    return timezone.localdate(now())


@contextmanager
def at(moment: datetime) -> Iterator[None]:
    """Stamp everything done inside with this moment."""
    token = _told.set(moment)
    try:
        yield
    finally:
        _told.reset(token)

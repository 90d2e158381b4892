"""What a set-up record was before: who changed what, and when."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import Any

from django.db.models import Model

from ..models.labels import label_of


@dataclass(frozen=True)
class Changed:
    """One field of a record: its label, and its text before and after."""

    label: str
    before: str
    after: str


@dataclass(frozen=True)
class SetupChange:
    """A saving of a record that changed something; ``is_first`` when it was made."""

    at: datetime
    by: str
    is_first: bool
    fields: tuple[Changed, ...] = ()


def changes_of(record: Model) -> list[SetupChange]:
    """Newest first. Nothing for records that are versioned or dated in their own right."""
    kept = list(record.history.select_related("history_user")) if hasattr(record, "history") else []
    if not kept:
        return []
    later = (_change(record, new, old) for new, old in pairwise(kept))
    first = SetupChange(kept[-1].history_date, _who(kept[-1]), is_first=True)
    return [*(change for change in later if change.fields), first]


def _change(record: Model, new: Any, old: Any) -> SetupChange:
    return SetupChange(new.history_date, _who(new), False, tuple(_fields(record, new, old)))


def _who(row: Any) -> str:
    return str(row.history_user or "the record itself")


def _fields(record: Model, new: Any, old: Any) -> Iterator[Changed]:
    for change in new.diff_against(old, foreign_keys_are_objs=True).changes:
        label = label_of(type(record), change.field)
        yield Changed(label, _text(change.old), _text(change.new))


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):  # a field of many, one row of its own each
        return ", ".join(sorted(str(one) for row in value for one in _named(row))) or "none"
    return "blank" if value in (None, "") else str(value)


def _named(row: dict[str, Any]) -> list[Any]:
    """The other side of a row that joins two records."""
    return list(row.values())[1:]

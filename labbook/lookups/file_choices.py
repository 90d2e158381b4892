"""What people settled about a logger's files, remembered for the bench it stands at."""

from __future__ import annotations

from ..intake import Choices
from ..models import Bench, FileChoices


def choices_of(bench: Bench) -> list[FileChoices]:
    """What stands of every layout seen on the bench: the newest row, unless it was forgotten."""
    newest: dict[str, FileChoices] = {}
    for kept in bench.file_choices.select_related("by"):
        newest.setdefault(kept.layout, kept)
    return [kept for kept in newest.values() if kept.choices]


def choices_for(bench: Bench, layout: str) -> FileChoices | None:
    return next((kept for kept in choices_of(bench) if kept.layout == layout), None)


def remembered_for(bench: Bench) -> tuple[Choices, ...]:
    """The same as the reading of a file takes it."""
    return tuple(
        Choices.from_dict(kept.choices | {"layout": kept.layout}) for kept in choices_of(bench)
    )

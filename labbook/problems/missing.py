"""What a sheet still lacks."""

from __future__ import annotations

from ..lookups.sheets import Sheet
from ..sheet import Field, Part
from .refusals import Problem


def missing_from(sheet: Sheet, parts: list[Part]) -> list[Problem]:
    """Every required field of these parts that is blank and that nothing stands in for."""
    return [
        Problem("missing", "B", f"“{field.words}” is not filled in yet.", field=field.key)
        for part in parts
        for field in part.fields
        if field.required and not sheet.text(field.key) and not _replaced(field, sheet)
    ]


def _replaced(field: Field, sheet: Sheet) -> bool:
    return bool(field.unless) and all(sheet.text(key) for key in field.unless)

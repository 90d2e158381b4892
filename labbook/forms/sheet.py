"""The rows of a run sheet, ready for the page."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from django.urls import reverse

from reduction.notes import Thresholds

from ..lookups.sheets import Sheet
from ..models import AidLot, FuseLot, Run, SheetEntry, StandardLot
from ..models.materials import LOTS
from ..sheet import FIELDS, Field, Part, parts_for
from .notes import ShownNote

FUSE_FIELDS = ("fuse_before", "fuse_left")


@dataclass
class Row:
    """One field of the sheet as it stands, or as it was just typed and refused."""

    name: str
    label: str
    value: str
    unit: str = ""
    hint: str = ""
    required: bool = False
    choices: list[tuple[str, str]] = field(default_factory=list)
    lines: int = 0
    inputmode: str = "decimal"
    url: str = ""
    version: int = 0
    saved_at: Any = None
    saved_by: str = ""
    earlier: list[dict[str, Any]] = field(default_factory=list)
    error: str = ""
    locked: bool = False
    locked_why: str = ""
    reason: str = ""
    found: str = ""
    late: str = ""
    # How what was chosen read when it was entered, where set-up has changed it since.
    then: str = ""
    # Notes stand in a slot of their own below the field, so that they can change by themselves.
    notes: list[ShownNote] | None = None

    @property
    def shown(self) -> str:
        """The value in words: what was chosen rather than its key."""
        return dict(self.choices).get(self.value, self.value)


@dataclass
class RowsOfPart:
    part: Part
    rows: list[Row]


def rows_of(
    sheet: Sheet, notes: dict[str, list[ShownNote]], *, locked_why: str = ""
) -> list[RowsOfPart]:
    return [
        RowsOfPart(part, [row_of(sheet, f, notes, locked_why=locked_why) for f in part.fields])
        for part in parts_for(sheet.run.kind)
    ]


def row_of(
    sheet: Sheet,
    field: Field,
    notes: dict[str, list[ShownNote]] | None = None,
    *,
    locked_why: str = "",
) -> Row:
    entry = sheet.current.get(field.key)
    return Row(
        name=field.key,
        label=field.words,
        value=entry.text if entry else "",
        unit=_unit(sheet, field),
        hint=field.hint,
        required=field.required,
        choices=_choices(sheet, field),
        lines=3 if field.reader == "words" else 0,
        inputmode="decimal" if field.reader in ("figure", "moment") else "text",
        url=reverse("enter_figure", args=[sheet.run.pk, field.key]),
        version=entry.pk if entry else 0,
        saved_at=entry.at if entry else None,
        saved_by=_writer(entry) if entry else "",
        earlier=[_struck(old, sheet) for old in sheet.earlier.get(field.key, [])],
        locked=bool(locked_why),
        locked_why=locked_why,
        late=_late(sheet.run, entry) if entry else "",
        then=_lot_then(sheet, field, entry) if entry else "",
        notes=None if notes is None else notes.get(field.key, []),
    )


def _late(run: Run, entry: SheetEntry) -> str:
    """How long after the firing a figure was entered, where that is worth saying."""
    at_most = run.method.thresholds.get("late_s", Thresholds.late_s)
    if run.fired_at is None or (entry.at - run.fired_at).total_seconds() <= at_most:
        return ""
    hours, minutes = divmod(int((entry.at - run.fired_at).total_seconds()) // 60, 60)
    if hours >= 48:
        return f"entered {hours // 24} days after the firing"
    return f"entered {hours} h {minutes} min after the firing"


def _lot_then(sheet: Sheet, field: Field, entry: SheetEntry) -> str:
    lot = getattr(sheet.run, field.key) if field.reader == "lot" and entry.text else None
    if lot is None:
        return ""
    before = lot.history.filter(history_date__lte=entry.at).first()
    words = _lot_words(before.instance) if before else ""
    return words if words != _lot_words(lot) else ""


def _unit(sheet: Sheet, field: Field) -> str:
    """The fuse is measured in the unit of its lot; every other field has its own."""
    lot = sheet.run.fuse_lot
    if field.key in FUSE_FIELDS:
        return lot.measured_in if lot is not None else "cm\u00a0or\u00a0g"
    return field.unit


def fuse_units(sheet: Sheet) -> list[tuple[str, str]]:
    """The fields whose unit follows the fuse's lot, with the unit they have now."""
    return [(key, _unit(sheet, FIELDS[key])) for key in FUSE_FIELDS]


def _choices(sheet: Sheet, field: Field) -> list[tuple[str, str]]:
    if field.choices:
        return [("", "not yet"), *field.choices]
    if field.reader != "lot":
        return []
    lots = LOTS[field.key]._default_manager.filter(in_use=True)
    return [("", "not yet"), *((str(lot), _lot_words(lot)) for lot in lots)]


def _lot_words(lot: Any) -> str:
    if isinstance(lot, StandardLot):
        return f"{lot.code}: {lot.value_words}, {lot.get_basis_display()}"
    if isinstance(lot, FuseLot):
        return f"{lot.code}: {lot.material}, {lot.value.normalize():f} {lot.basis}"
    if isinstance(lot, AidLot):
        return f"{lot.code}: {lot.material}, {lot.j_per_g.normalize():f} J/g"
    return f"{lot.code}: {lot.solute}, {lot.mol_per_l.normalize():f} mol/L"


def _writer(entry: SheetEntry) -> str:
    return str(entry.entered_by or entry.by)


def _struck(entry: SheetEntry, sheet: Sheet) -> dict[str, Any]:
    successor = next((e for e in sheet.all_of(entry.field) if e.replaces_id == entry.pk), None)
    return {
        "text": entry.text or "blank",
        "who": _writer(entry),
        "when": entry.at,
        "why": successor.reason if successor else "",
    }

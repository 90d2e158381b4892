"""What stands on a data sheet: everything of a run, or the lines to write it on."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from ..exchange.results import results_in
from ..forms.sheet import fuse_units, rows_of
from ..lookups.around_firing import answers_to, checklist_words, happenings_of
from ..lookups.outputs import Outputs, kept_outputs
from ..lookups.readings import as_written
from ..lookups.sheets import Sheet
from ..models import Account, Bench, Group, Method, NoteAnswer, Run
from ..problems import notes_on_sheet
from ..sheet import Field, parts_for
from ..typesetting.methods import METHODS

COLUMNS = 5  # readings side by side, to save paper
SLOTS_DOWN = 26
SLOTS_UNTIL_S = 20 * 60


@dataclass(frozen=True)
class PaperNote:
    """Something that was noticed, and what was answered to it."""

    severity: str
    sentence: str
    answer: NoteAnswer | None = None


def filled_context(run: Run, account: Account) -> dict[str, Any]:
    sheet, written = Sheet(run), as_written(run)
    outputs = kept_outputs(run, account)
    return {
        "run": run,
        "present": run.present.all(),
        "parts": rows_of(sheet, {}),
        "differences": _differences(sheet),
        "checks": run.checks.select_related("person"),
        "checklist": checklist_words(run),
        "happenings": happenings_of(run),
        "notes": _notes(run, sheet, outputs),
        "withheld": outputs.withheld,
        "decisions": run.decisions.select_related("by"),
        "rows": [written[start : start + COLUMNS] for start in range(0, len(written), COLUMNS)],
        "across": range(COLUMNS),
        "count": len(written),
        "strikes": run.strikes.select_related("by", "entered_by"),
        "files": _files_used(run),
        **_summary(run, outputs.values),
    }


def _differences(sheet: Sheet) -> list[tuple[str, str, Decimal | None, str]]:
    """What follows from two figures by subtraction: the part it belongs to, words, value, unit."""
    wire = dict(fuse_units(sheet))["fuse_left"]
    found = [
        ("charge", "Charge, by difference", sheet.charge_g, "g"),
        ("bucket", "Water in the bucket, by difference", sheet.bucket_water_g, "g"),
        ("after", "Fuse wire used, by difference", sheet.fuse_used, wire),
    ]
    return [row for row in found if row[2] is not None]


def _notes(run: Run, sheet: Sheet, outputs: Outputs) -> list[PaperNote]:
    """What the sheet and the reduction gave reason to say, then what was answered before."""
    answers = dict(answers_to([run]).get(run.pk, {}))
    noticed = [(note.code, note.severity, note.sentence) for note in notes_on_sheet(run, sheet)]
    noticed += [(note["code"], note["severity"], note["sentence"]) for note in outputs.notes]
    shown = [
        PaperNote(severity, sentence, answers.pop((code, sentence), None))
        for code, severity, sentence in noticed
    ]
    earlier = [answer for answer in answers.values() if answer.run_id == run.pk]
    return shown + [PaperNote("", answer.sentence, answer) for answer in earlier]


def _files_used(run: Run) -> list[Any]:
    return list(run.files.filter(readingblock__isnull=False).distinct().select_related("by"))


def _summary(run: Run, values: dict[str, Any]) -> dict[str, Any]:
    """The results of a finished run, each with its expanded uncertainty where one is known."""
    if not run.is_finished or not values:
        return {}
    rise = values.get("rise_used") or {}
    return {
        "results": results_in(values),
        "rise": rise,
        "rise_words": METHODS.get(rise.get("method", ""), ""),
    }


@dataclass(frozen=True)
class BlankRow:
    label: str
    unit: str
    boxes: tuple[str, ...]


def blank_context(
    kind: str, group: Group | None, bench: Bench | None, method: Method | None
) -> dict[str, Any]:
    """Lines for a kind of run, with what is known of the group, its bench and its method."""
    interval = method.reading_interval_s if method else 15
    return {
        "kind": kind,
        "kind_words": Run.Kind(kind).label,
        "group": group,
        "bench": bench,
        "configuration": bench.configuration if bench else None,
        "method": method,
        "interval_s": interval,
        "checklist": _lines(method.firing_checklist) if method else [],
        "parts": [(part, [_blank_row(f) for f in part.fields]) for part in parts_for(kind)],
        "rows": _slots(interval),
        "across": range(COLUMNS),
    }


def _slots(interval_s: int) -> list[tuple[int | None, ...]]:
    """Times to write beside, down one column and then the next; blank where too many are due."""
    due = range(0, SLOTS_UNTIL_S + 1, interval_s)
    most = COLUMNS * SLOTS_DOWN
    times = [*due, *[None] * (most - len(due))] if len(due) <= most else [None] * most
    return [tuple(times[row::SLOTS_DOWN]) for row in range(SLOTS_DOWN)]


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip()]


def _blank_row(field: Field) -> BlankRow:
    unit = "cm or g" if field.key in ("fuse_before", "fuse_left") else field.unit
    return BlankRow(field.words, unit, tuple(words for _, words in field.choices))

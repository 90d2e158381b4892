"""A run as it was handed in, as its marker reads it: from the record of the hand-in alone."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from reduction.errors import ReductionError
from reduction.hand.chain import HandFigure as Understood
from reduction.hand.facts import Beside, Facts, facts_of
from reduction.hand.steps import steps_for

from ..models import HandFigure, Happening, LiteratureValue, NoteAnswer, Run, SheetEntry
from .hand_comparison import Comparison, beside_of, compared
from .hand_figures import CitedValues, figures_in, literature_of
from .outputs import run_file
from .sheets import Sheet
from .snapshots import Record


@dataclass(frozen=True)
class HandedInFigures:
    """The hand figures of a run as they stood."""

    run: Record

    @property
    def keys(self) -> tuple[str, ...]:
        is_named = self.run["sample"] is not None and not self.run["is_hidden"]
        return steps_for(self.run["kind"], is_named=is_named)

    @cached_property
    def current(self) -> dict[str, HandFigure]:
        rows = self.run["hand_figures"]
        return {row["key"]: HandFigure(**_kept(row, "key", "text", "unit")) for row in rows}

    @cached_property
    def figures(self) -> dict[str, Understood]:
        return figures_in(self.keys, self.current)


def _kept(row: Record, *names: str) -> dict[str, Any]:
    return {name: row[name] for name in names}


def comparison_in(run: Record, others: Iterable[Record]) -> Comparison | None:
    """Hand, computed and literature as handed in; None where there is nothing to compare."""
    hand = HandedInFigures(run)
    outputs = run["result"]["outputs"] if run["result"] else {}
    if not outputs or not hand.current:
        return None
    facts = _facts(run, outputs, list(others))
    return None if facts is None else compared(hand, facts, outputs, _literature(run))


def _facts(run: Record, outputs: dict[str, Any], others: list[Record]) -> Facts | None:
    try:
        inputs = run_file(run["inputs"])
    except ReductionError:  # kept by an earlier version, under names no longer read
        return None
    return facts_of(inputs, outputs, _beside(run, others))


def _beside(run: Record, others: list[Record]) -> Beside:
    results = [other["result"]["outputs"] for other in others if other["result"]]
    return beside_of(
        sheet_in(run),
        [sheet_in(other) for other in others],
        rises=[(found.get("rise_used") or {}).get("rise_k") for found in results],
        capacities=[
            (found.get("heat_capacity") or {}).get("at_nominal_water_j_per_k") for found in results
        ],
        own=[
            HandedInFigures(other).current.get("capacity")
            for other in others
            if other["standardization"] is not None
        ],
    )


def sheet_in(run: Record) -> Sheet:
    """The sheet as it stood, with the struck-out entries behind each figure."""
    rows = run["evidence"]["entries"]
    return Sheet(Run(), [SheetEntry(**_kept(row, "field", "text", "reason")) for row in rows])


def _literature(run: Record) -> CitedValues | None:
    """What the group had cited when it handed in, beside the record's own value.

    None for as long as nobody but the staff may know what was burned.
    """
    live = Run.objects.filter(pk=run["number"]).select_related("sample__substance").first()
    found = None if live is None else literature_of(live)
    if found is None or run["is_hidden"]:
        return None
    cited = [
        LiteratureValue(**_kept(row, "dch_kj_per_mol", "u_kj_per_mol"))
        for row in reversed(run["literature"])
    ]
    own = (found.own_kj_per_mol, found.own_u_kj_per_mol, found.own_citation)
    return CitedValues(cited, *own)


@dataclass(frozen=True)
class SheetField:
    """A field of the sheet with what was written: the text that counts, and those struck out."""

    words: str
    unit: str
    text: str
    struck: tuple[tuple[str, str], ...]

    def through(self, veil: Callable[[str], str]) -> SheetField:
        struck = tuple((veil(text), veil(reason)) for text, reason in self.struck)
        return replace(self, text=veil(self.text), struck=struck)


def sheet_parts(run: Record) -> list[tuple[str, list[SheetField]]]:
    """The parts of the sheet in bench order, without the fields that stayed blank."""
    sheet = sheet_in(run)
    parts = [
        (title, [_field(field, sheet) for field in fields if sheet.all_of(field["key"])])
        for title, fields in run["parts"]
    ]
    return [(title, fields) for title, fields in parts if fields]


def _field(field: Record, sheet: Sheet) -> SheetField:
    """Each struck-out text stands with the reason its replacement gave."""
    entries = sheet.all_of(field["key"])
    shown = [field["choices"].get(entry.text, entry.text) for entry in entries]
    reasons = [entry.reason for entry in entries[1:]]
    return SheetField(
        field["words"], field["unit"], shown[-1], tuple(zip(shown[:-1], reasons, strict=True))
    )


def said_in(run: Record) -> list[str]:
    """What happened, as it was written down, and what was answered to the notes."""
    evidence = run["evidence"]
    happened = [
        ": ".join(filter(None, (Happening(kind=row["kind"]).get_kind_display(), row["words"])))
        for row in evidence["happenings"]
    ]
    answered = [
        f"{row['sentence']} Answered: {NoteAnswer(answer=row['answer']).get_answer_display()}"
        f"{', ' if row['words'] else ''}{row['words']}."
        for row in evidence["answers"]
    ]
    return happened + answered

"""Which runs a re-reduction takes in, and what it moves."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.db.models import Q, QuerySet

from ..models import Rereduction, RereductionItem, Run

SELECT_BY = {
    "bench": "bench__code",
    "term": "group__section__term__name",
    "kind": "kind",
    "standard_lot": "standard_lot__code",
    "fuse_lot": "fuse_lot__code",
    "titrant_lot": "titrant_lot__code",
}
HEADLINES = (
    ("rise_k", "ΔT", "K"),
    ("c_j_per_k", "C", "J/K"),
    ("du_j_per_g", "Δcu", "J/g"),
    ("dch_kj_per_mol", "ΔcH", "kJ/mol"),
)


def select_runs(selection: dict[str, str]) -> QuerySet[Run]:
    """Completed runs that match every choice; set-aside ones are reduced like the others."""
    chosen = {SELECT_BY[name]: value for name, value in selection.items() if value}
    return Run.objects.filter(completed_at__isnull=False, **chosen).order_by("pk")


@dataclass(frozen=True)
class Progress:
    """How far a re-reduction is: runs worked out and, once it is applied, kept."""

    total: int
    worked_out: int
    kept: int

    @property
    def percent(self) -> int:
        return 100 * self.worked_out // self.total if self.total else 100


def pending(rereduction: Rereduction) -> QuerySet[RereductionItem]:
    """What is still to do: to work out, or, once it is applied, to keep."""
    todo = Q(outcome__isnull=True)
    if rereduction.applied_at is not None:
        todo = Q(after__isnull=True)
    return rereduction.items.filter(todo).select_related(*RUN_WITH)


RUN_WITH = (
    "run__configuration",
    "run__method",
    "run__rests_on",
    "run__sample__substance",
    "run__standard_lot__substance",
    "run__fuse_lot",
    "run__titrant_lot",
    "run__aid_lot",
    "run__second_aid_lot",
    "run__result",
)


def progress_of(rereduction: Rereduction) -> Progress:
    items = rereduction.items
    return Progress(
        items.count(),
        items.exclude(outcome__isnull=True).count(),
        items.exclude(after__isnull=True).count(),
    )


@dataclass(frozen=True)
class Move:
    """One figure of one run, before and after; ``percent`` is None where one side is missing."""

    run: Run
    words: str
    unit: str
    before: float | None
    after: float | None

    @property
    def percent(self) -> float | None:
        if not self.before or self.after is None:
            return None
        return 100 * (self.after / self.before - 1)


def moves_of(rereduction: Rereduction) -> list[Move]:
    """Every figure that moved, the largest change first."""
    items = rereduction.items.exclude(outcome__isnull=True).select_related(
        "run__bench", "run__group", "run__sample", "before"
    )
    moves = [move for item in items for move in _moves(item)]
    return sorted(moves, key=lambda move: -abs(move.percent if move.percent is not None else 1e9))


def _moves(item: RereductionItem) -> Iterator[Move]:
    outcome: dict[str, Any] = item.outcome or {}
    for key, words, unit in HEADLINES:
        before, after = getattr(item.before, key, None), outcome.get(key)
        if before != after:
            yield Move(item.run, words, unit, before, after)

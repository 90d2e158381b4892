"""The points of the heat-capacity histories: what was approved on each bench, and its runs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Q

from ..models import Exclusion, Run, Standardization
from ..models.standardizations import Approval


@dataclass(frozen=True, slots=True)
class Point:
    """One approved standardization, perhaps withdrawn or left out for a proven cause.

    ``pk`` is the standardization's. A plain record: a history reads hundreds of them.
    """

    pk: int
    bench_id: int
    state: str
    term: str
    group: str
    approval: Approval
    exclusion: Exclusion | None = None

    @property
    def at(self) -> datetime:
        return self.approval.at

    @property
    def is_withdrawn(self) -> bool:
        return self.state == Standardization.State.WITHDRAWN

    @property
    def counts(self) -> bool:
        return self.exclusion is None and not self.is_withdrawn


COLUMNS = (
    "pk", "bench", "state", "group__section__term__name", "group__code", "approved_at",
    "approved_c_j_per_k", "approved_s_j_per_k", "approved_half_width_j_per_k", "approved_n",
)  # fmt: skip


def points_since(starts: Mapping[int, datetime | None]) -> dict[int, list[Point]]:
    """By bench every value approved since its start, or ever; practice terms are left out."""
    excluded = {e.standardization_id: e for e in Exclusion.objects.filter(ended_at__isnull=True)}
    found: dict[int, list[Point]] = defaultdict(list)
    for pk, bench, state, term, group, *approved in _rows(starts):
        approval = Approval(*approved)
        found[bench].append(Point(pk, bench, state, term, group, approval, excluded.get(pk)))
    return found


def _rows(starts: Mapping[int, datetime | None]) -> Iterable[tuple[Any, ...]]:
    wanted = Q(pk__in=[])
    for bench, start in starts.items():
        wanted |= Q(bench=bench) if start is None else Q(bench=bench, approved_at__gte=start)
    return (
        Standardization.objects.filter(
            wanted, approved_at__isnull=False, group__section__term__is_practice=False
        )
        .order_by("approved_at", "pk")
        .values_list(*COLUMNS)
    )


def runs_behind(points: Iterable[Point]) -> dict[int, list[tuple[Run, float]]]:
    """By standardization the runs its mean was approved from, each with its C in J/K then."""
    rows = (
        Standardization.objects.filter(
            pk__in=[point.pk for point in points], approved_results__isnull=False
        )
        .order_by("approved_results__run__replicate")
        .values_list(
            "pk",
            "approved_results__run",
            "approved_results__run__replicate",
            "approved_results__c_j_per_k",
        )
    )
    found: dict[int, list[tuple[Run, float]]] = defaultdict(list)
    for standardization, run, replicate, c_j_per_k in rows:
        if c_j_per_k is not None:
            found[standardization].append((Run(pk=run, replicate=replicate), c_j_per_k))
    return found

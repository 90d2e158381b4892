"""The points of the heat-capacity histories: what was approved on each bench, and its runs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from typing import Any, NamedTuple

from django.db import connection

from ..models import Exclusion, Standardization
from ..models.standardizations import Approval

WITHDRAWN = Standardization.State.WITHDRAWN.value


class Point(NamedTuple):
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
        return self.state == WITHDRAWN

    @property
    def counts(self) -> bool:
        return self.exclusion is None and self.state != WITHDRAWN


# Written out, since the benches page reads a thousand of them: as fields of a model they take
# twice as long.
POINTS = """
SELECT s.id, s.bench_id, s.state, t.name, g.code, s.approved_at, s.approved_c_j_per_k,
       s.approved_s_j_per_k, s.approved_half_width_j_per_k, s.approved_n
FROM labbook_standardization s
JOIN labbook_group g ON g.id = s.group_id
JOIN labbook_section c ON c.id = g.section_id
JOIN labbook_term t ON t.id = c.term_id
WHERE ({of_benches}) AND s.approved_at IS NOT NULL AND NOT t.is_practice
ORDER BY s.approved_at, s.id
"""


def points_since(starts: Mapping[int, datetime | None]) -> dict[int, list[Point]]:
    """By bench every value approved since its start, or ever; practice terms are left out."""
    excluded = {e.standardization_id: e for e in Exclusion.objects.filter(ended_at__isnull=True)}
    found: dict[int, list[Point]] = defaultdict(list)
    for pk, bench, state, term, group, at, *figures in _rows(starts):
        approval = Approval(at if at.tzinfo else at.replace(tzinfo=UTC), *figures)
        found[bench].append(Point(pk, bench, state, term, group, approval, excluded.get(pk)))
    return found


def _rows(starts: Mapping[int, datetime | None]) -> list[tuple[Any, ...]]:
    of_bench, params = [], []
    for bench, start in starts.items():
        of_bench.append("s.bench_id = %s" + (" AND s.approved_at >= %s" if start else ""))
        params += [bench, *([connection.ops.adapt_datetimefield_value(start)] if start else [])]
    with connection.cursor() as cursor:
        cursor.execute(POINTS.format(of_benches=" OR ".join(of_bench) or "1 = 0"), params)
        return list(cursor.fetchall())


class RunBehind(NamedTuple):
    """A run a mean was approved from, with its C then."""

    pk: int
    replicate: int
    c_j_per_k: float


def runs_behind(points: Iterable[Point]) -> dict[int, list[RunBehind]]:
    """By standardization the runs its mean was approved from."""
    rows = (
        Standardization.objects.filter(
            pk__in=[point.pk for point in points], approved_results__c_j_per_k__isnull=False
        )
        .order_by("approved_results__run__replicate")
        .values_list(
            "pk",
            "approved_results__run",
            "approved_results__run__replicate",
            "approved_results__c_j_per_k",
        )
    )
    found: dict[int, list[RunBehind]] = defaultdict(list)
    for standardization, run, replicate, c_j_per_k in rows:
        assert c_j_per_k is not None  # so it was asked
        found[standardization].append(RunBehind(run, replicate, c_j_per_k))
    return found

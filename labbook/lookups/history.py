"""Every bench's heat capacity over the years, read as far back as is asked, and judged."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TypeVar

from django.db.models import Case, Count, Max, Q, QuerySet, Value, When

from .. import clock
from ..access import require
from ..models import Account, Bench, FrozenLimits, PhaseBreak, Run, Standardization
from .judging import judge_histories
from .phases import BenchHistory, phases_of
from .points import points_since
from .practice import practice_groups
from .standardizations import approvals_in_force

REACH = timedelta(days=5 * 365)
"""How far back the histories are read unless more is asked for, to the start of a phase."""

EVER = datetime(1900, 1, 1, tzinfo=UTC)
"""Before anything that can be on record."""

UNFINISHED = (Run.State.OPEN, Run.State.FIRED)
CUTTING = (PhaseBreak.State.PROPOSED, PhaseBreak.State.CONFIRMED)
Row = TypeVar("Row", PhaseBreak, FrozenLimits, Standardization, Run)


def histories(account: Account, since: datetime | None = None) -> list[BenchHistory]:
    """All benches, judged in one go; the number of queries does not grow with the benches."""
    require(account, "see benches")
    return all_histories(since)


def history_of(
    bench: Bench, account: Account, since: datetime | None = None
) -> tuple[BenchHistory, list[BenchHistory]]:
    """One bench, itself read further back where asked, with all: their scatter judges it."""
    require(account, "see benches")
    everyone = all_histories(since, only=bench)
    return next(found for found in everyone if found.bench.pk == bench.pk), everyone


def all_histories(since: datetime | None = None, only: Bench | None = None) -> list[BenchHistory]:
    """For the record itself: commands and actions, which ask nobody's rights.

    Whole phases, from the one in which `REACH` begins; from an earlier one, of all benches or
    only of one, where ``since`` is earlier. What is read further back changes no judgement.
    """
    recent = clock.now() - REACH
    earliest = min(recent, since or recent)
    extents = _extents(recent, earliest, only)
    oldest = min([earliest, *(extent.start for extent in extents if extent.start)])
    breaks = _by_bench(PhaseBreak.objects.filter(state__in=CUTTING, at__gte=oldest).order_by("at"))
    frozen = _by_bench(FrozenLimits.objects.order_by("pk"))
    points = points_since({extent.bench.pk: extent.start for extent in extents})
    in_force = {s.bench_id: s for s in approvals_in_force()}
    busy = _by_bench(_unfinished([extent.bench for extent in extents]))
    found = [
        BenchHistory(
            extent.bench,
            phases_of(points[pk], extent.of(breaks[pk]), frozen[pk], recent, extent.earlier),
            in_force.get(pk),
            busy[pk],
        )
        for extent in extents
        for pk in [extent.bench.pk]
    ]
    judge_histories(found)
    return found


@dataclass(frozen=True)
class _Extent:
    """What is read of a bench: from the start of a phase on, None for the first one there was.

    ``earlier`` counts the phases that are not read.
    """

    bench: Bench
    start: datetime | None
    earlier: int

    def of(self, breaks: list[PhaseBreak]) -> list[PhaseBreak]:
        return [cut for cut in breaks if self.start is None or cut.at >= self.start]


def _extents(recent: datetime, earliest: datetime, only: Bench | None) -> list[_Extent]:
    """Every bench, or ``only`` one, back to the earliest; counted where the breaks are kept."""
    reach: Value | Case = Value(earliest)
    if only is not None:
        reach = Case(When(pk=only.pk, then=Value(earliest)), default=Value(recent))
    before = Q(breaks__state__in=CUTTING, breaks__at__lte=reach)
    benches = Bench.objects.annotate(
        start=Max("breaks__at", filter=before), earlier=Count("breaks", filter=before)
    )
    # Grouped rows do not come in the order of the model.
    return [_Extent(b, b.start, b.earlier) for b in benches.order_by("code")]


def _unfinished(benches: list[Bench]) -> QuerySet[Run]:
    """The runs going on.

    A run without the moment of its completion is in the index of the few unfinished ones; its
    group is fetched apart, since joined it tempts SQLite to read every run there is.
    """
    runs = Run.objects.filter(completed_at__isnull=True, state__in=UNFINISHED)
    in_use = runs.filter(bench__in=benches).exclude(group__in=practice_groups())
    return in_use.prefetch_related("group")


def _by_bench(rows: Iterable[Row]) -> dict[int, list[Row]]:
    found: dict[int, list[Row]] = defaultdict(list)
    for row in rows:
        found[row.bench_id].append(row)
    return found

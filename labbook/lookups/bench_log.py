"""The bench log as it is read: its entries, the faults still open, and what is due."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta

from django.db.models import Q
from django.utils import timezone

from .. import clock
from ..access import require
from ..models import Account, Bench, BenchEvent, ServicePlan
from .benches import Change, changes_of
from .services import Service, services_of

Kind = BenchEvent.Kind
PARTS_CHANGED = "parts"


@dataclass(frozen=True)
class Upkeep:
    """What a bench needs: services, the most urgent first, and open faults, oldest first."""

    services: list[Service] = field(default_factory=list)
    faults: list[BenchEvent] = field(default_factory=list)

    @property
    def overdue(self) -> list[Service]:
        """What keeps the bench from being released: overdue, and nobody let it pass today."""
        return [s for s in self.services if s.is_overdue and s.released is None]

    @property
    def foremost(self) -> list[Service]:
        """What is due or soon will be, and in any case the service nearest by firings."""
        by_firings = [s for s in self.services if s.plan.every_firings is not None]
        nearest = max(by_firings, key=lambda s: s.share_of_firings, default=None)
        return [s for s in self.services if s.state != "fine" or s is nearest]


def upkeep_of(benches: Iterable[Bench]) -> dict[int, Upkeep]:
    """For the record itself: checks and actions, which ask nobody's rights."""
    benches = list(benches)
    services = services_of(benches)
    faults, releases = _of_today(benches)
    return {
        bench.pk: Upkeep(
            [
                replace(service, released=releases.get((service.plan.pk, service.part.pk)))
                for service in services[bench.pk]
            ],
            faults[bench.pk],
        )
        for bench in benches
    }


def _of_today(
    benches: list[Bench],
) -> tuple[dict[int, list[BenchEvent]], dict[tuple[int | None, int | None], BenchEvent]]:
    """Faults nobody has mended, by bench, and the day's releases, by plan and part."""
    is_open_fault = Q(kind=Kind.FAULT, answered_by__isnull=True)
    released_today = Q(kind=Kind.RELEASED, at__range=_hours_of(clock.today()))
    rows = BenchEvent.objects.filter(is_open_fault | released_today, bench__in=benches)
    faults: dict[int, list[BenchEvent]] = defaultdict(list)
    releases = {}
    for event in rows.select_related("by").order_by("at", "pk"):
        if event.kind == Kind.FAULT:
            faults[event.bench_id].append(event)
        else:
            releases[event.plan_id, event.part_id] = event
    return faults, releases


def _hours_of(day: date) -> tuple[datetime, datetime]:
    """From midnight to midnight, as an index of moments can be asked."""
    zone = timezone.get_current_timezone()
    begins, ends = (datetime.combine(day, time.min, zone) + timedelta(days=n) for n in (0, 1))
    return begins, ends - timedelta.resolution


def upkeep(account: Account, benches: Iterable[Bench]) -> dict[int, Upkeep]:
    require(account, "see benches")
    return upkeep_of(benches)


def plans_for(bench: Bench) -> list[ServicePlan]:
    """The plans in use for what is on the bench now."""
    return [service.plan for service in services_of([bench])[bench.pk]]


@dataclass(frozen=True)
class Entry:
    """One line of the log: something logged, or a change of what the bench consists of."""

    at: datetime
    event: BenchEvent | None = None
    change: Change | None = None


def entries_of(account: Account, bench: Bench, kind: str = "") -> list[Entry]:
    """The log, newest first: all of it, one kind of event, or the changes of parts."""
    require(account, "see benches")
    entries = [Entry(event.at, event=event) for event in _events(bench, kind)]
    if kind in ("", PARTS_CHANGED):
        entries += [Entry(row.configuration.since, change=row) for row in changes_of(bench)]
    return sorted(entries, key=lambda entry: entry.at, reverse=True)


def _events(bench: Bench, kind: str) -> Iterable[BenchEvent]:
    rows = bench.events.select_related("by", "part", "plan", "answers__by", "answered_by__by")
    return rows.filter(kind=kind) if kind else rows

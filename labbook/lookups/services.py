"""Services: how far along each part of a bench is, by firings and by date, and what is due."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Count, OuterRef, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce
from django.utils import timezone
from django.utils.text import capfirst

from .. import clock
from ..models import Bench, BenchConfiguration, BenchEvent, Part, Run, ServicePlan
from .practice import practice_groups

DUE_SOON_FROM = 0.9


@dataclass(frozen=True)
class Service:
    """One plan on one part: what has been fired and how long it is since it was last done."""

    plan: ServicePlan
    part: Part
    since: datetime
    was_done: bool
    firings: int
    released: BenchEvent | None = None

    @property
    def days(self) -> int:
        return (clock.today() - timezone.localdate(self.since)).days

    @property
    def _counts(self) -> list[tuple[int, int, str]]:
        counts = (
            (self.firings, self.plan.every_firings, "firings"),
            (self.days, self.plan.every_days, "days"),
        )
        return [(count, every, of) for count, every, of in counts if every is not None]

    @property
    def share(self) -> float:
        """How much of the interval is used up, by firings or by date, whichever is further."""
        return max(count / every for count, every, _ in self._counts)

    @property
    def share_of_firings(self) -> float:
        return self.firings / self.plan.every_firings if self.plan.every_firings else 0.0

    @property
    def state(self) -> str:
        if self.share >= 1:
            return "overdue"
        return "due soon" if self.share >= DUE_SOON_FROM else "fine"

    @property
    def is_overdue(self) -> bool:
        return self.state == "overdue"

    @property
    def sentence(self) -> str:
        """Such as “62 of 60 firings since the seals were changed on 3 March 2026”."""
        figures = " and ".join(f"{count} of {every} {of}" for count, every, of in self._counts)
        day = f"{timezone.localtime(self.since):%-d %B %Y}"
        if self.was_done:
            return f"{figures} since {self.plan.done_words} on {day}"
        return f"{figures} since {self.part} came into use on {day}, none logged before"

    def __str__(self) -> str:
        return f"{capfirst(self.plan.words)}, {self.part}"


def counted_firings() -> QuerySet[Run]:
    """Every firing of the terms that count: misfires, practice runs, runs set aside as well."""
    return Run.objects.filter(fired_at__isnull=False).exclude(group__in=practice_groups())


def firings_by_vessel(bench: Bench) -> list[tuple[Part, int]]:
    """Each vessel the bench has had, with all its firings, on whichever bench they were."""
    vessels = Part.objects.filter(pk__in=bench.configurations.values("vessel"))
    firings = (
        counted_firings()
        .filter(configuration__vessel__in=bench.configurations.values("vessel"))
        .order_by()
        .values_list("configuration__vessel")
        .annotate(Count("pk"))
    )
    counts = dict(firings)
    return [(vessel, counts.get(vessel.pk, 0)) for vessel in vessels]


def services_of(benches: Iterable[Bench]) -> dict[int, list[Service]]:
    """What is planned for the parts now on each bench, the most urgent first.

    Three queries, however many benches: what they consist of, the plans, and one for the
    services logged and the firings since.
    """
    plans = list(ServicePlan.objects.filter(in_use=True).select_related("part"))
    now_there = _newest_configurations(benches, {plan.kind for plan in plans})
    pairs = [
        (configuration.bench_id, plan, getattr(configuration, plan.kind))
        for configuration in now_there
        for plan in plans
        if plan.is_for(getattr(configuration, plan.kind))
    ]
    progress = _progress(plans, {part.pk for _, _, part in pairs})
    found: dict[int, list[Service]] = defaultdict(list)
    for bench_id, plan, part in pairs:
        found[bench_id].append(_service(plan, part, progress[part.pk]))
    for services in found.values():
        services.sort(key=lambda service: -service.share)
    return found


def _newest_configurations(
    benches: Iterable[Bench], with_parts: set[str]
) -> list[BenchConfiguration]:
    if not with_parts:
        return []
    newest = BenchConfiguration.objects.filter(bench=OuterRef("bench")).order_by("-since")
    return list(
        BenchConfiguration.objects.filter(
            bench__in=[bench.pk for bench in benches], pk=Subquery(newest.values("pk")[:1])
        ).select_related(*with_parts)
    )


def _progress(plans: list[ServicePlan], parts: set[int]) -> dict[int, dict[str, Any]]:
    """Of each part and plan: when it was last done, since when it counts, the firings since."""
    found = Part.objects.filter(pk__in=parts)
    for plan in plans:
        done, since, firings = _names(plan)
        found = found.annotate(**{done: _last_done(plan)})
        found = found.annotate(**{since: Coalesce(done, _first_used(plan))})
        found = found.annotate(**{firings: _firings(plan, since)})
    return {row["pk"]: row for row in found.values("pk", *_all_names(plans))}


def _names(plan: ServicePlan) -> tuple[str, str, str]:
    return f"done_{plan.pk}", f"since_{plan.pk}", f"firings_{plan.pk}"


def _all_names(plans: list[ServicePlan]) -> list[str]:
    return [name for plan in plans for name in _names(plan)]


def _last_done(plan: ServicePlan) -> Subquery:
    services = BenchEvent.objects.filter(
        kind=BenchEvent.Kind.SERVICE, plan=plan, part=OuterRef("pk")
    )
    return Subquery(services.order_by("-at").values("at")[:1])


def _first_used(plan: ServicePlan) -> Subquery:
    first = BenchConfiguration.objects.filter(**{plan.kind: OuterRef("pk")}).order_by("since")
    return Subquery(first.values("since")[:1])


def _firings(plan: ServicePlan, since: str) -> Coalesce | Value:
    if plan.every_firings is None:
        return Value(0)
    part = f"configuration__{plan.kind}"
    runs = counted_firings().filter(**{part: OuterRef("pk")}, fired_at__gt=OuterRef(since))
    count = runs.order_by().values(part).annotate(count=Count("pk")).values("count")
    return Coalesce(Subquery(count), 0)


def _service(plan: ServicePlan, part: Part, progress: dict[str, Any]) -> Service:
    done, since, firings = (progress[name] for name in _names(plan))
    return Service(plan, part, since, done is not None, firings)

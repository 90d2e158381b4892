"""A section's afternoon: its groups at their benches, their runs, what was handed over."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from django.db.models import Count, Max, Model, OuterRef, Prefetch, Q, QuerySet, Subquery

from .. import clock
from ..access import Reach, reach_of
from ..models import (
    Account,
    BenchEvent,
    BenchPreparation,
    Decision,
    Group,
    Handover,
    Happening,
    NoteAnswer,
    Result,
    Run,
    Section,
    SheetEntry,
    Standardization,
)

PUT_FORWARD, UNLOCKED = Standardization.State.PUT_FORWARD, Decision.Deed.UNLOCKED
GOING_ON = (Run.State.OPEN, Run.State.FIRED)


def visible_sections(account: Account) -> QuerySet[Section]:
    """The sections of the terms still running that this account looks after."""
    running = Section.objects.filter(term__ends__gte=clock.today()).select_related("term")
    reach = reach_of(account, "look after section")
    if reach is Reach.ALL:
        return running
    if reach is Reach.SECTIONS:
        return running.filter(assistants=account)
    return running.none()


@dataclass
class Place:
    """A group at its bench, with the runs that matter this afternoon, oldest first."""

    group: Group
    runs: list[Run] = field(default_factory=list)

    @property
    def faults(self) -> int:
        return getattr(self.group, "faults", 0) or 0

    @property
    def is_released(self) -> bool | None:
        """None while nobody has decided on the bench this afternoon."""
        found: bool | None = getattr(self.group, "is_released", None)
        return found

    @property
    def why(self) -> str:
        return getattr(self.group, "why", "") or ""

    @property
    def put_forward(self) -> list[Standardization]:
        sets = {run.standardization_id: run.standardization for run in self.runs}
        return [found for found in sets.values() if found and found.state == PUT_FORWARD]


def places_of(section: Section) -> list[Place]:
    """Two queries, however many groups: those with their benches, and the runs."""
    places = {group.pk: Place(group) for group in _groups(section)}
    for run in runs_of_afternoon(section):
        places[run.group_id].runs.append(run)
    for place in places.values():
        place.runs = [run for run in place.runs if _matters(run, place.runs)]
    return sorted(places.values(), key=lambda place: (_bench_code(place), place.group.code))


def _bench_code(place: Place) -> str:
    return place.group.bench.code if place.group.bench else "~"


def _groups(section: Section) -> QuerySet[Group]:
    newest = BenchPreparation.objects.filter(
        section=OuterRef("section"), bench=OuterRef("bench"), on=clock.today()
    ).order_by("-pk")
    faults = (
        BenchEvent.objects.filter(
            bench=OuterRef("bench"), kind=BenchEvent.Kind.FAULT, answered_by__isnull=True
        )
        .order_by()
        .values("bench")
        .annotate(count=Count("pk"))
    )
    return section.groups.select_related("bench").annotate(
        is_released=Subquery(newest.values("is_released")[:1]),
        why=Subquery(newest.values("words")[:1]),
        faults=Subquery(faults.values("count")),
    )


def runs_of_afternoon(section: Section) -> QuerySet[Run]:
    """Runs going on, sheets to sign, what waits for a decision, and all that was opened today."""
    return (
        Run.objects.filter(
            Q(state__in=[*GOING_ON, Run.State.COMPLETE])
            | Q(opened_at__date=clock.today())
            | Q(standardization__state=PUT_FORWARD),
            group__section=section,
        )
        .select_related(
            "bench", "configuration", "method", "sample", "standardization__bench", "result",
            "group__bench", "standard_lot__substance", "fuse_lot", "titrant_lot", "aid_lot",
            "second_aid_lot",
        )
        .defer("result__inputs")
        .prefetch_related(Prefetch("decisions", Decision.objects.filter(deed=UNLOCKED)))
        .order_by("opened_at")
    )  # fmt: skip


def _matters(run: Run, others: list[Run]) -> bool:
    """What is not settled, and of the settled the group's last."""
    is_waiting = run.standardization is not None and run.standardization.state == PUT_FORWARD
    return run.state in (*GOING_ON, Run.State.COMPLETE) or is_waiting or run == others[-1]


def with_newest(sections: QuerySet[Section]) -> QuerySet[Section]:
    """With what ``fingerprint_of_afternoon`` asks for, in the query that fetches the section."""
    return sections.annotate(
        **{f"newest_{n}": _newest(model, path) for n, (model, path) in enumerate(TOLD)}
    )


def fingerprint_of_afternoon(section: Section) -> str:
    """Changes with everything the section's page tells, and every minute.

    Rows of evidence are only ever added, so the newest of each kind says whether any was.
    """
    newest = [getattr(section, f"newest_{n}") or 0 for n in range(len(TOLD))]
    return "-".join([f"{clock.now():%H%M}", *map(str, newest)])


TOLD: tuple[tuple[type[Model], str], ...] = (
    (SheetEntry, "run__group__section"),
    (Decision, "run__group__section"),
    (NoteAnswer, "run__group__section"),
    (Happening, "run__group__section"),
    (Result, "run__group__section"),
    (Decision, "standardization__group__section"),
    (BenchEvent, "bench__group__section"),
    (BenchPreparation, "section"),
)


def _newest(model: type[Model], to_section: str) -> Subquery:
    rows = model._default_manager.filter(**{to_section: OuterRef("pk")}).order_by()
    return Subquery(rows.values(to_section).annotate(newest=Max("pk")).values("newest"))


def preparations_of(section: Section, on: date) -> dict[int, BenchPreparation]:
    """By bench the preparation that stands: the newest of the day."""
    rows = section.preparations.filter(on=on).select_related("by").order_by("pk")
    return {row.bench_id: row for row in rows}


def newest_preparation(group: Group) -> BenchPreparation | None:
    """The one that stands today for the group's bench."""
    rows = group.section.preparations.filter(bench=group.bench_id, on=clock.today())
    return rows.select_related("by").last()


def handovers_of(account: Account) -> list[Handover]:
    """The newest of every section within reach: what the TA before left open."""
    newest = visible_sections(account).annotate(newest=Max("handovers__pk"))
    rows = Handover.objects.filter(pk__in=newest.values("newest"))
    return list(rows.select_related("section__term", "by").order_by("-at"))

"""Benches: what they are made of now, how each stands, and the past of its heat capacity."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from django.db.models import QuerySet

from reduction.drift import Band, band

from ..access import may, require
from ..models import Account, Bench, BenchConfiguration, Run, Standardization
from ..models.labels import label_of
from ..models.standardizations import Approval
from .standardizations import Summary, approvals_in_force, approved_history

FEWEST_FOR_BAND = 3


def _standing(value: float, earlier: Band) -> str:
    if earlier.lower is None or earlier.upper is None:
        return "too few points"
    return "steady" if earlier.lower <= value <= earlier.upper else "out of line"


@dataclass(frozen=True)
class Point:
    """One approved standardization beside the band of the values before it."""

    standardization: Standardization
    approval: Approval
    earlier: Band | None
    is_in_force: bool

    @property
    def c_j_per_k(self) -> float:
        return self.approval.c_j_per_k

    @property
    def is_withdrawn(self) -> bool:
        return self.standardization.state == Standardization.State.WITHDRAWN

    @property
    def standing(self) -> str:
        """How the value lies to the earlier ones: steady, out of line, or too few to say."""
        if self.earlier is None:
            return "too few points"
        return _standing(self.c_j_per_k, self.earlier)


@dataclass(frozen=True)
class BenchStanding:
    bench: Bench
    points: list[Point]
    in_force: Standardization | None
    busy: list[Run]

    @property
    def last(self) -> Point | None:
        kept = [point for point in self.points if not point.is_withdrawn]
        return kept[-1] if kept else None

    @property
    def standing(self) -> str:
        return self.last.standing if self.last else "too few points"


def points_of(history: Iterable[Standardization], in_force: Standardization | None) -> list[Point]:
    """The points of one bench, each with the band of earlier values of its configuration.

    Values from before a change of parts say nothing about the bench after it, so the band
    starts anew with each configuration. Withdrawn approvals are shown but never in a band.
    """
    earlier: dict[int, list[float]] = defaultdict(list)
    points = []
    for standardization in history:
        approval = standardization.approval
        if approval is None:
            continue
        before = earlier[standardization.configuration_id]
        points.append(
            Point(
                standardization,
                approval,
                band(before) if len(before) >= FEWEST_FOR_BAND else None,
                in_force is not None and standardization.pk == in_force.pk,
            )
        )
        if standardization.state != Standardization.State.WITHDRAWN:
            before.append(approval.c_j_per_k)
    return points


def all_benches(account: Account) -> list[BenchStanding]:
    """Every bench with its standing; the number of queries does not grow with the benches."""
    require(account, "see benches")
    in_force = {s.bench_id: s for s in approvals_in_force()}
    past: dict[int, list[Standardization]] = defaultdict(list)
    for standardization in approved_history(Bench.objects.all()):
        past[standardization.bench_id].append(standardization)
    busy: dict[int, list[Run]] = defaultdict(list)
    unfinished = Run.objects.filter(state__in=[Run.State.OPEN, Run.State.FIRED])
    for run in unfinished.select_related("group"):
        busy[run.bench_id].append(run)
    return [
        BenchStanding(
            bench,
            points_of(past[bench.pk], in_force.get(bench.pk)),
            in_force.get(bench.pk),
            busy[bench.pk],
        )
        for bench in Bench.objects.all()
    ]


def history_of(account: Account, bench: Bench) -> BenchStanding:
    require(account, "see benches")
    in_force = approvals_in_force().filter(bench=bench).first()
    busy = list(bench.runs.filter(state__in=[Run.State.OPEN, Run.State.FIRED]))
    points = points_of(approved_history([bench]), in_force)
    return BenchStanding(bench, points, in_force, busy)


def visible_benches(account: Account) -> QuerySet[Bench]:
    """All for staff; for a group the bench it is booked on."""
    if may(account, "see benches"):
        return Bench.objects.all()
    return Bench.objects.filter(group=account.group_id)


@dataclass(frozen=True)
class Change:
    """A change of configuration, with the parts that differ from the one before."""

    configuration: BenchConfiguration
    differs: dict[str, str]

    @property
    def short(self) -> str:
        """What changed, in as few words as fit beside a mark on a plot."""
        return f"{', '.join(self.differs)} changed" if self.differs else "changed"


def changes_of(bench: Bench) -> list[Change]:
    """Every configuration of a bench after its first, oldest first."""
    rows = list(
        bench.configurations.select_related(*BenchConfiguration.PARTS, "made_by").order_by("since")
    )
    return [Change(new, _differing(old, new)) for old, new in pairwise(rows)]


def _differing(old: BenchConfiguration, new: BenchConfiguration) -> dict[str, str]:
    fields = (*BenchConfiguration.PARTS, "nominal_water_g")
    return {
        label_of(BenchConfiguration, name): f"{getattr(old, name)} → {getattr(new, name)}"
        for name in fields
        if getattr(old, name) != getattr(new, name)
    }


@dataclass(frozen=True)
class BesideHistory:
    """A standardization not decided yet, beside the bench's earlier values."""

    earlier: Band | None
    standing: str
    percent_off: float | None


def standing_beside_history(
    account: Account, standardization: Standardization, summary: Summary
) -> BesideHistory | None:
    """How the mean on the table lies to the approved values of the same configuration."""
    require(account, "see benches")
    if summary.replicates is None:
        return None
    before = [
        s.approval.c_j_per_k
        for s in approved_history([standardization.bench])
        if s.approval is not None
        and s.configuration_id == standardization.configuration_id
        and s.state != Standardization.State.WITHDRAWN
        and s.pk != standardization.pk
    ]
    if len(before) < FEWEST_FOR_BAND:
        return BesideHistory(None, "too few points", None)
    earlier, mean = band(before), summary.replicates.mean
    percent_off = 100 * (mean / earlier.mean - 1) if earlier.mean else None
    return BesideHistory(earlier, _standing(mean, earlier), percent_off)

"""Standardizations: what their runs amount to, and which approval is in force."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

from django.db.models import OuterRef, Q, QuerySet, Subquery

from reduction.replicates import Summary as Replicates
from reduction.replicates import summarize

from .. import clock
from ..access import within_reach
from ..models import Account, Bench, BenchConfiguration, Run, Standardization
from .unlocking import show_results

COUNTED = (Run.State.COMPLETE, Run.State.SIGNED)


@dataclass(frozen=True)
class Summary:
    """The runs of a standardization and the statistics of those that count.

    ``counted`` pairs each run that counts with its C in J/K.
    """

    runs: list[Run]
    counted: list[tuple[Run, float]]
    replicates: Replicates | None
    seen: str
    is_withheld: bool = False

    @property
    def n(self) -> int:
        return len(self.counted)


def visible_standardizations(account: Account) -> QuerySet[Standardization]:
    return Standardization.objects.filter(
        within_reach(account, "see standardization")
    ).select_related("bench", "group__section__term", "configuration", "method", "approved_by")


def waiting_for_decision(account: Account) -> QuerySet[Standardization]:
    """Those put forward that this account may decide on, the longest waiting first."""
    return (
        Standardization.objects.filter(
            within_reach(account, "decide standardization"),
            state=Standardization.State.PUT_FORWARD,
        )
        .select_related("bench", "group__section__term", "method")
        .order_by("put_forward_at")
    )


def summary_of(standardization: Standardization) -> Summary:
    runs = list(
        standardization.runs.select_related("result", "group", "bench").order_by("replicate")
    )
    counted = [
        (run, run.result.c_j_per_k)
        for run in runs
        if run.state in COUNTED and run.result is not None and run.result.c_j_per_k is not None
    ]
    replicates = summarize([value for _, value in counted]) if counted else None
    return Summary(runs, counted, replicates, _fingerprint(runs))


def summary_shown(found: Summary, account: Account) -> Summary:
    """The summary for a page: no statistics while the values of any of its runs are withheld."""
    show_results(account, found.runs)
    if all(run.shown is not None for run, _ in found.counted):
        return found
    return Summary(found.runs, [], None, found.seen, is_withheld=True)


def _fingerprint(runs: list[Run]) -> str:
    """Changes whenever a decision about these runs would rest on something else."""
    seen = [f"{run.pk} {run.state} {run.result_id}" for run in runs]
    return hashlib.sha256("\n".join(seen).encode()).hexdigest()[:16]


def _still_valid(of_practice: bool = False) -> Q:
    """Approved, not past its date, and of the configuration its bench has now.

    A practice term's approvals serve its own groups alone, and those of no other term serve them.
    """
    newest = BenchConfiguration.objects.filter(bench=OuterRef("bench")).order_by("-since")
    now = clock.today()
    return (
        Q(state=Standardization.State.APPROVED)
        & (Q(lapses_on__isnull=True) | Q(lapses_on__gte=now))
        & Q(configuration=Subquery(newest.values("pk")[:1]))
        & Q(group__section__term__is_practice=of_practice)
    )


def approvals_in_force() -> QuerySet[Standardization]:
    """For every bench the approved standardization its unknowns would use today."""
    newest = (
        Standardization.objects.filter(_still_valid(), bench=OuterRef("pk"))
        .order_by("-approved_at", "-pk")
        .values("pk")[:1]
    )
    # Asked of the few benches, not of every standardization there ever was.
    return Standardization.objects.filter(
        pk__in=Bench.objects.annotate(newest=Subquery(newest)).order_by().values("newest")
    )


def approval_in_force(bench: Bench, *, of_practice: bool = False) -> Standardization | None:
    return (
        Standardization.objects.filter(_still_valid(of_practice), bench=bench)
        .order_by("-approved_at", "-pk")
        .first()
    )


def approved_outside(account: Account) -> QuerySet[Standardization]:
    """Approved outside their bench's history, in the terms still running, newest first."""
    return (
        visible_standardizations(account)
        .filter(
            was_outside=True,
            group__section__term__ends__gte=clock.today(),
            group__section__term__is_practice=False,
        )
        .prefetch_related("decisions__by")
        .order_by("-approved_at")
    )

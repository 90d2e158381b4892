"""What of the record is open: to programs with a token, and in a data set to publish.

No names and no free text leave by it. Groups are numbers; what is in a vial is said once it was
revealed, to whoever asks.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from typing import Any

from django.db.models import Q, QuerySet

from ..access import within_reach
from ..models import Account, Bench, Run, Standardization, Term
from .history import EVER, all_histories
from .phases import BenchHistory, Judged
from .points import points_since
from .standardizations import summary_of

FINISHED = (Run.State.COMPLETE, Run.State.SIGNED, Run.State.SET_ASIDE)
HIDDEN = Q(sample__isnull=False, sample__revealed_at__isnull=True)
RELATED = ("bench", "method", "group__section__term", "sample__substance", "result")


@dataclass(frozen=True)
class Asked:
    """Which runs a program asks for; what is left empty asks for all."""

    term: str = ""
    bench: str = ""
    state: str = ""
    since: date | None = None
    with_practice: bool = False

    @property
    def condition(self) -> Q:
        wanted = {
            "group__section__term__name": self.term,
            "bench__code": self.bench,
            "state": self.state,
        }
        found = Q(**{key: value for key, value in wanted.items() if value})
        if self.since is not None:
            found &= Q(opened_at__gte=datetime.combine(self.since, time.min, UTC))
        if not self.with_practice:
            found &= Q(group__section__term__is_practice=False)
        return found


def open_runs(account: Account, asked: Asked | None = None) -> QuerySet[Run]:
    """Runs within the account's reach, by their number."""
    runs = Run.objects.filter(within_reach(account, "see run")).select_related(*RELATED)
    runs = runs.defer("result__inputs", "result__outputs").order_by("pk")
    return runs.filter(asked.condition) if asked else runs


def open_standardizations(account: Account) -> QuerySet[Standardization]:
    found = Standardization.objects.filter(within_reach(account, "see standardization"))
    return found.select_related("bench", "group__section__term").order_by("pk")


def open_terms() -> QuerySet[Term]:
    return Term.objects.select_related("method").order_by("-starts", "pk")


def summary_numbers(found: Standardization) -> tuple[list[int], list[int]]:
    """The numbers of all its runs, and of those that count for its mean now."""
    summary = summary_of(found)
    return [run.pk for run in summary.runs], [run.pk for run, _ in summary.counted]


def values_of(run: Run) -> dict[str, Any]:
    """All outputs of the newest result; empty where there is none. For staff and publication."""
    return run.result.outputs if run.result is not None else {}


def inputs_kept(run: Run) -> dict[str, Any]:
    """The run file of the newest result, without its readings and what only decides on notes."""
    inputs = run.result.inputs if run.result is not None else {}
    return {key: inputs[key] for key in inputs if key not in ("readings", "thresholds")}


@dataclass(frozen=True)
class Scope:
    """What a data set is of: a term, or a bench in all its terms. Practice terms are in none."""

    term: Term | None = None
    bench: Bench | None = None

    @property
    def title(self) -> str:
        return f"bench {self.bench.code}" if self.bench else str(self.term)

    def runs(self) -> QuerySet[Run]:
        """Finished runs but practice, without those of a sample that is still hidden."""
        return self._finished().exclude(HIDDEN).select_related(*RELATED).order_by("pk")

    def left_out(self) -> int:
        """How many runs are left out since their sample was not revealed yet."""
        return self._finished().filter(HIDDEN).count()

    def _finished(self) -> QuerySet[Run]:
        runs = Run.objects.filter(state__in=FINISHED, group__section__term__is_practice=False)
        runs = runs.exclude(kind=Run.Kind.PRACTICE)
        if self.bench is not None:
            return runs.filter(bench=self.bench)
        return runs.filter(group__section__term=self.term)

    def standardizations(self) -> QuerySet[Standardization]:
        """Those the runs belong to or rest on, and those the history has."""
        runs = self.runs().order_by()
        ours = Q(pk__in=runs.values("standardization")) | Q(pk__in=runs.values("rests_on"))
        if self.bench is not None:
            points = points_since({self.bench.pk: None})[self.bench.pk]
            ours |= Q(pk__in=[point.pk for point in points])
        else:
            ours |= Q(group__section__term=self.term, approved_at__isnull=False)
        found = Standardization.objects.filter(ours, group__section__term__is_practice=False)
        return found.select_related("bench", "group__section__term").order_by("pk")

    def terms(self) -> QuerySet[Term]:
        return (
            Term.objects.filter(
                Q(pk__in=self.runs().order_by().values("group__section__term"))
                | Q(pk__in=self.standardizations().order_by().values("group__section__term"))
            )
            .select_related("method")
            .order_by("pk")
        )

    def benches(self) -> QuerySet[Bench]:
        runs, sets = self.runs().order_by(), self.standardizations().order_by()
        used = Q(pk__in=runs.values("bench")) | Q(pk__in=sets.values("bench"))
        return Bench.objects.filter(used).order_by("code")

    def points(self) -> Iterator[tuple[BenchHistory, int, Judged]]:
        """The approved values with how each was judged, and the number of its phase."""
        for history in self._histories():
            for number, judged in judged_of(history):
                if self.term is None or judged.point.term == self.term.name:
                    yield history, number, judged

    def _histories(self) -> list[BenchHistory]:
        if self.term is not None:
            return all_histories(datetime.combine(self.term.starts, time.min, UTC))
        found = all_histories(EVER, only=self.bench)
        return [history for history in found if history.bench == self.bench]


def judged_of(history: BenchHistory) -> Iterator[tuple[int, Judged]]:
    for phase in history.phases:
        for judged in phase.judged:
            yield phase.number, judged

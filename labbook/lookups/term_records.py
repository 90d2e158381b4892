"""A term's records laid side by side for the look for likeness: read once, in few queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from functools import cached_property
from math import sqrt
from typing import Any

import numpy as np
from django.db.models import QuerySet
from numpy.typing import NDArray

from reduction.likeness.evenness import LineScatter, Replicates
from reduction.likeness.last_digits import free_digits, last_digit
from reduction.likeness.masses import Weighing
from reduction.likeness.series import Series
from reduction.thermogram import Thermogram

from ..intake.figures import read_figure
from ..models import ReadingBlock, ReadingStrike, Run, SheetEntry, Standardization, Term
from ..models.readings import unpack
from .same_masses import MASSES

# The empty crucible and bucket are the same ones again and again: their digits repeat by right.
FILLED = {"charge": "charge_gross_g", "bucket": "bucket_gross_g"}
FEWEST_READINGS = 4
COUNTED = (Run.State.COMPLETE, Run.State.SIGNED)
Array = NDArray[Any]


@dataclass(frozen=True)
class RunFacts:
    """A run as far as likeness goes; its group by number."""

    pk: int
    group: int
    section: int
    bench: int
    kind: str
    replicate: int
    state: str
    standardization: int | None
    opened_at: datetime
    completed_at: datetime | None
    drift: dict[str, Any] | None
    periods: dict[str, Any] | None
    capacity: dict[str, Any] | None
    c_j_per_k: float | None


COLUMNS = (
    "pk", "group_id", "group__section_id", "bench_id", "kind", "replicate", "state",
    "standardization_id", "opened_at", "completed_at", "result__outputs__drift",
    "result__outputs__periods", "result__outputs__budget__heat_capacity", "result__c_j_per_k",
)  # fmt: skip


class TermRecords:
    """Everything of one term that is compared. Misfires have nothing to compare."""

    def __init__(self, term: Term) -> None:
        self.term = term

    @cached_property
    def runs(self) -> dict[int, RunFacts]:
        rows = self._runs().order_by("pk").values_list(*COLUMNS)
        return {row[0]: RunFacts(*row) for row in rows}

    def _runs(self) -> QuerySet[Run]:
        of_term = Run.objects.filter(group__section__term=self.term)
        return of_term.exclude(cause=Run.Cause.MISFIRE)

    @cached_property
    def figures(self) -> dict[int, dict[str, Decimal]]:
        """By run the weighings that stand, as typed."""
        entries = SheetEntry.objects.filter(
            run__in=self._runs().values("pk"),
            field__in=(*MASSES, *FILLED.values()),
            replaced_by__isnull=True,
        ).exclude(text="")
        found: dict[int, dict[str, Decimal]] = defaultdict(dict)
        for run, key, text in entries.values_list("run_id", "field", "text"):
            found[run][key] = read_figure(text).value
        return found

    @cached_property
    def readings(self) -> dict[int, tuple[Array, Array]]:
        """By run times [s] and temperatures [°C] of the readings that count, in order of time."""
        blocks = ReadingBlock.objects.filter(run__in=self._runs().values("pk"))
        pieces: dict[int, list[Any]] = defaultdict(list)
        struck = self._struck()
        rows = blocks.order_by("run_id", "first_number")
        for run, first, times, temperatures in rows.values_list(
            "run_id", "first_number", "times_s", "temperatures_c"
        ):
            t, y = unpack(times), unpack(temperatures)
            kept = _kept(np.arange(first, first + t.size), struck[run])
            pieces[run].append(np.stack([t, y])[:, kept])
        return {run: _in_order(np.concatenate(parts, axis=1)) for run, parts in pieces.items()}

    def _struck(self) -> dict[int, list[tuple[int, int]]]:
        found: dict[int, list[tuple[int, int]]] = defaultdict(list)
        strikes = ReadingStrike.objects.filter(run__in=self._runs().values("pk"))
        for run, first, last in strikes.values_list("run_id", "first_number", "last_number"):
            found[run].append((first, last))
        return found

    @cached_property
    def typed(self) -> dict[int, list[dict[str, Any]]]:
        """By run the typed readings as they were written, with who typed them when."""
        blocks = ReadingBlock.objects.filter(
            run__in=self._runs().values("pk"), source=ReadingBlock.Source.TYPED
        ).order_by("run_id", "first_number")
        found: dict[int, list[dict[str, Any]]] = defaultdict(list)
        for block in blocks.only("run_id", "details"):
            found[block.run_id] += block.read_details()
        return found

    # --- as the detectors take it -------------------------------------------------------------

    def weighings(self) -> list[Weighing]:
        gross, tare = MASSES
        return [
            Weighing(pk, run.group, run.bench, figures[gross], figures[tare])
            for pk, run in self.runs.items()
            for figures in [self.figures.get(pk, {})]
            if gross in figures and tare in figures
        ]

    @cached_property
    def series(self) -> dict[int, Series]:
        found = {}
        for pk, (t, y) in self.readings.items():
            if t.size >= FEWEST_READINGS:
                found[pk] = Series(pk, t, y, Thermogram(t, y).resolution_k)
        return found

    def digits(self) -> dict[str, dict[int, list[int]]]:
        """By kind and group the last digits that nothing leads: of masses and typed readings."""
        found: dict[str, dict[int, list[int]]] = {
            kind: defaultdict(list) for kind in (*FILLED, "readings")
        }
        for pk, figures in self.figures.items():
            group = self.runs[pk].group
            for kind, key in FILLED.items():
                if key in figures:
                    found[kind][group].append(last_digit(figures[key]))
        for pk, details in self.typed.items():
            written = [read_figure(one["temperature"]).value for one in details]
            found["readings"][self.runs[pk].group] += free_digits(written)
        return found

    def lines(self) -> list[LineScatter]:
        return [
            line
            for pk, run in self.runs.items()
            if run.drift and run.periods and pk in self.series
            for line in _lines(run, self.series[pk].step_k)
        ]

    def replicates(self) -> list[Replicates]:
        """The standardizations, each beside what else its bench has on record."""
        sets: dict[int, list[RunFacts]] = defaultdict(list)
        for run in self.runs.values():
            if run.standardization and run.state in COUNTED and run.c_j_per_k is not None:
                sets[run.standardization].append(run)
        spreads = _spreads({run.bench for runs in sets.values() for run in runs})
        return [_replicates(pk, runs, spreads) for pk, runs in sets.items()]


def _kept(numbers: Array, struck: list[tuple[int, int]]) -> Array:
    kept = np.ones(numbers.shape, dtype=bool)
    for first, last in struck:
        kept &= (numbers < first) | (numbers > last)
    return kept


def _in_order(readings: Array) -> tuple[Array, Array]:
    order = np.argsort(readings[0], kind="stable")
    return readings[0][order], readings[1][order]


def _lines(run: RunFacts, step_k: float) -> Iterator[LineScatter]:
    assert run.drift is not None and run.periods is not None
    bounds = {"fore": ("fore_from_s", "fired_at_s"), "after": ("settled_at_s", "after_until_s")}
    for period, (begins, ends) in bounds.items():
        line, start, end = run.drift.get(period), run.periods[begins], run.periods[ends]
        if not line or start is None or end is None or line.get("residual_sd_k") is None:
            continue
        climbs = abs(line["slope_k_per_s"]) * (end - start)
        sd, count = line["residual_sd_k"], int(line["n"])
        yield LineScatter(run.pk, run.bench, period, sd, count, climbs, step_k)


Spreads = dict[int, list[tuple[int, float, int]]]


def _spreads(benches: set[int]) -> Spreads:
    """By bench its approved standardizations: number, standard deviation [J/K], runs."""
    rows = Standardization.objects.filter(
        bench__in=benches, approved_s_j_per_k__isnull=False, group__section__term__is_practice=False
    )
    found: Spreads = defaultdict(list)
    for bench, pk, s, n in rows.values_list("bench_id", "pk", "approved_s_j_per_k", "approved_n"):
        if s is not None and n is not None:
            found[bench].append((pk, s, n - 1))
    return found


def _replicates(pk: int, runs: list[RunFacts], spreads: Spreads) -> Replicates:
    others = [(s, degrees) for own, s, degrees in spreads[runs[0].bench] if own != pk]
    degrees = sum(own for _, own in others)
    usual = sqrt(sum(own * s**2 for s, own in others) / degrees) if degrees else 0.0
    own = [u for run in runs if (u := _u_of_own(run)) is not None]
    values = tuple(run.c_j_per_k for run in runs if run.c_j_per_k is not None)
    return Replicates(runs[0].group, pk, values, min(own, default=0.0), usual, float(degrees))


def _u_of_own(run: RunFacts) -> float | None:
    """What a run's budget of C leaves beside what it shares with the others [J/K]."""
    rows = (run.capacity or {}).get("rows", [])
    return sqrt(sum(row["contribution"] ** 2 for row in rows if not row["shared"])) or None

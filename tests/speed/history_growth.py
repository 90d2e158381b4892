"""Print what the benches page and a bench's page cost as the years go by.

    .venv/bin/python -m tests.speed.history_growth [--runs 1000 10000 100000] [--repeat 9]

In a record of its own, 1,000 runs a year on 12 benches: half of them standardizations of three,
half unknowns; outputs as long as real ones; every bench changed every other year, its seals every
half year. Server time of each page against the bare SQL and JSON of the points it is made from,
run by turns in one go; medians. A bench is judged by all benches, so its page and its table are
made from everybody's points; the signs of wear from its own. The bare work signs nobody in, judges
nothing and knows nothing of approvals in force, services due and runs going on. `--cpu` counts the
seconds of this process alone, for a machine that has other work.
"""

from tests.speed import temporary_record  # isort: skip

import argparse
import json
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import numpy as np
from django.db import connection
from django.test import Client
from django.utils import timezone

from labbook.lookups.history import REACH, all_histories
from labbook.models import (
    Account,
    Bench,
    BenchConfiguration,
    BenchEvent,
    Group,
    Method,
    Part,
    PhaseBreak,
    Result,
    Role,
    Run,
    Sample,
    Section,
    ServicePlan,
    Standardization,
    StandardLot,
    Substance,
    Term,
)

BENCHES, RUNS_A_YEAR, SET, BATCH = 12, 1000, 3, 1000
OUTPUTS = {"as long as real ones": "x" * 8000}
CHANGED_EVERY = timedelta(days=730)
YEAR = timedelta(days=365.25)
Clock = Callable[[], float]


class Record:
    """A laboratory that grows: years are added before the earliest there are."""

    def __init__(self) -> None:
        self.now = self.earliest = timezone.now()
        self.rng = np.random.default_rng(1)
        self.coordinator = Account.objects.create(
            username="c", name="C", role=Role.COORDINATOR, is_active=True
        )
        made = {"made_by": self.coordinator, "made_at": self.now}
        self.method = Method.objects.create(name="method", **made)
        substance = Substance.objects.create(name="benzoic acid", formula="C7H6O2")
        self.lot = StandardLot.objects.create(
            code="S1", substance=substance, value_j_per_g="26434", u_j_per_g="1.5",
            basis="vacuum", certificate="invented",
        )  # fmt: skip
        self.substance = substance
        self.seals = ServicePlan.objects.create(
            words="change the seals", done_words="the seals were changed", part_kind="vessel",
            every_firings=60, every_days=200,
        )  # fmt: skip
        self.benches = [Bench.objects.create(code=f"B{i + 1}") for i in range(BENCHES)]
        self.configurations = {
            bench.pk: self._configure(bench, self.now - 200 * YEAR) for bench in self.benches
        }
        self.runs = self.terms = 0

    def _configure(self, bench: Bench, since: datetime) -> BenchConfiguration:
        parts = {
            kind: Part.objects.create(kind=kind, serial=bench.code)
            for kind in BenchConfiguration.PARTS
        }
        return BenchConfiguration.objects.create(
            bench=bench, since=since, nominal_water_g=2000, bomb_volume_ml=340, reason="r",
            made_by=self.coordinator, **parts,
        )  # fmt: skip

    def grow_to(self, runs: int) -> None:
        while self.runs < runs:
            self._add_half_year(min(RUNS_A_YEAR // 2, runs - self.runs))

    def _add_half_year(self, runs: int) -> None:
        ends, self.earliest = self.earliest, self.earliest - YEAR / 2
        self.terms += 1
        term = Term.objects.create(
            name=f"term {self.terms}", starts=self.earliest.date(), ends=ends.date(),
            method=self.method,
        )  # fmt: skip
        section = Section.objects.create(term=term, name="Monday")
        sample = Sample.objects.create(
            term=term, label="U", substance=self.substance, max_charge_g="0.7"
        )
        groups = [
            Group.objects.create(section=section, code=f"G{i}", bench=bench)
            for i, bench in enumerate(self.benches)
        ]
        sets = max(runs // (2 * SET), 1)
        moments = [self.earliest + (ends - self.earliest) * (i + 0.5) / sets for i in range(sets)]
        made = self._standardizations(groups, moments)
        self._runs(made, sample, runs)
        self._breaks()
        self._services()
        self.runs += runs

    def _services(self) -> None:
        """New seals on every vessel at the end of the half year."""
        at = self.earliest + 0.45 * YEAR
        for bench in self.benches:
            BenchEvent.objects.create(
                bench=bench, kind="service", at=at, recorded_at=at, by=self.coordinator,
                plan=self.seals, part=self.configurations[bench.pk].vessel, words="done",
            )  # fmt: skip

    def _standardizations(
        self, groups: list[Group], moments: list[datetime]
    ) -> list[Standardization]:
        rows = []
        for i, at in enumerate(moments):
            bench = self.benches[i % BENCHES]
            rows.append(
                Standardization(
                    bench=bench, configuration=self.configurations[bench.pk],
                    group=groups[i % BENCHES], method=self.method, state="approved",
                    opened_at=at, approved_at=at, approved_by=self.coordinator,
                    approved_c_j_per_k=10_100 + 20 * self.rng.standard_normal(),
                    approved_s_j_per_k=30.0, approved_half_width_j_per_k=75.0,
                    approved_n=SET, lapses_on=(at + timedelta(days=120)).date(),
                )
            )  # fmt: skip
        return Standardization.objects.bulk_create(rows, BATCH)

    def _runs(self, made: list[Standardization], sample: Sample, count: int) -> None:
        rows = [self._run(made[i // (2 * SET) % len(made)], i, sample) for i in range(count)]
        runs = Run.objects.bulk_create(rows, BATCH)
        results = Result.objects.bulk_create([self._result(run) for run in runs], BATCH)
        for run, result in zip(runs, results, strict=True):
            run.result = result
        Run.objects.bulk_update(runs, ["result"], BATCH // 4)
        through = Standardization.approved_results.through
        through.objects.bulk_create(
            through(standardization_id=run.standardization_id, result_id=run.result_id)
            for run in runs
            if run.standardization_id
        )

    def _run(self, of: Standardization, number: int, sample: Sample) -> Run:
        at = of.opened_at + timedelta(minutes=number % (2 * SET))
        is_unknown = number % (2 * SET) >= SET
        about: dict[str, Any] = (
            {"kind": "unknown", "rests_on": of, "sample": sample}
            if is_unknown
            else {"kind": "standardization", "standardization": of, "standard_lot": self.lot}
        )
        return Run(
            group=of.group, bench=of.bench, configuration=of.configuration, method=self.method,
            replicate=number % SET + 1, state="signed", opened_at=at, fired_at=at,
            completed_at=at, **about,
        )  # fmt: skip

    def _result(self, run: Run) -> Result:
        noise = self.rng.standard_normal(4)
        return Result(
            run=run, at=run.opened_at, by=self.coordinator, reason="saved", version="1",
            inputs={}, inputs_sha256="0", outputs=OUTPUTS, rise_k=2.5,
            c_j_per_k=10_100 + 30 * noise[0], fore_drift_k_per_s=1e-6 * noise[1],
            after_drift_k_per_s=1e-6 * noise[2], time_to_95_s=180 + 5 * noise[3], noise_k=1e-3,
        )  # fmt: skip

    def _breaks(self) -> None:
        """A change of parts every other year on each bench, at the beginning of a term."""
        if (self.terms - 1) % 4 != 3:
            return
        PhaseBreak.objects.bulk_create(
            PhaseBreak(
                bench=bench, at=self.earliest, cause="parts", words="changed", state="confirmed",
                made_by=self.coordinator, decided_by=self.coordinator, decided_at=self.earliest,
            )
            for bench in self.benches
        )  # fmt: skip


POINTS = """
SELECT s.id, s.bench_id, s.state, t.name, g.code, s.approved_at, s.approved_c_j_per_k,
       s.approved_s_j_per_k, s.approved_half_width_j_per_k, s.approved_n
FROM labbook_standardization s JOIN labbook_group g ON g.id = s.group_id
JOIN labbook_section e ON e.id = g.section_id JOIN labbook_term t ON t.id = e.term_id
WHERE s.bench_id = %s AND s.approved_at >= %s AND NOT t.is_practice ORDER BY s.approved_at
"""
RUNS_BEHIND = """
SELECT a.standardization_id, r.id, r.replicate, x.c_j_per_k
FROM labbook_standardization_approved_results a JOIN labbook_result x ON x.id = a.result_id
JOIN labbook_run r ON r.id = x.run_id
JOIN labbook_standardization s ON s.id = a.standardization_id
WHERE s.bench_id = %s AND s.approved_at >= %s
"""
SIGNS = """
SELECT r.id, r.kind, r.state, g.code, r.fired_at, x.fore_drift_k_per_s, x.after_drift_k_per_s,
       x.time_to_95_s, x.noise_k
FROM labbook_run r JOIN labbook_result x ON x.id = r.result_id
JOIN labbook_group g ON g.id = r.group_id
WHERE r.bench_id = %s AND r.fired_at >= %s ORDER BY r.fired_at
"""


def bare(starts: dict[int, datetime], more: dict[str, int]) -> str:
    """The points of these benches, as far back as a page reads them, and what more, as JSON."""
    since = timezone.now() - REACH
    with connection.cursor() as cursor:
        points = [rows(cursor, POINTS, pk, start) for pk, start in starts.items()]
        return json.dumps([points, [rows(cursor, sql, pk, since) for sql, pk in more.items()]])


def rows(cursor: Any, sql: str, pk: int, since: datetime) -> list[list[Any]]:
    cursor.execute(sql, [pk, since])
    return [[str(c) if isinstance(c, datetime) else c for c in row] for row in cursor.fetchall()]


def seconds(work: Callable[[], object], clock: Clock) -> float:
    started = clock()
    work()
    return clock() - started


def measure(record: Record, repeat: int, clock: Clock) -> list[tuple[str, int, float, float]]:
    """Page by page: address, points and runs shown, seconds, seconds of the bare work."""
    client = Client(headers={"host": "localhost"})
    client.force_login(record.coordinator)
    bench, found = record.benches[0], all_histories()
    starts = {row.bench.pk: row.points[0].at for row in found}
    own = len(next(row for row in found if row.bench == bench).points)
    runs = Run.objects.filter(bench=bench, fired_at__gte=timezone.now() - REACH).count()
    address = f"/benches/{bench.code}/"
    five_years = {bench.pk: timezone.now() - REACH}
    pages: list[tuple[str, int, dict[int, datetime], dict[str, int]]] = [
        ("/benches/", sum(len(row.points) for row in found), starts, {}),
        (address, own, starts, {RUNS_BEHIND: bench.pk}),
        (f"{address}table/", own, starts, {}),
        (f"{address}wear/", runs, five_years, {SIGNS: bench.pk}),
    ]
    measured = []
    for page, shown, since, more in pages:
        assert client.get(page).status_code == 200
        both = [
            (seconds(lambda page=page: client.get(page), clock),
             seconds(lambda since=since, more=more: bare(since, more), clock))
            for _ in range(repeat)
        ]  # fmt: skip
        measured.append((page, shown, *np.median(both, axis=0).tolist()))
    return measured


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, nargs="+", default=[1000, 10_000, 100_000])
    parser.add_argument("--repeat", type=int, default=9)
    parser.add_argument("--cpu", action="store_true", help="seconds of this process alone")
    chosen = parser.parse_args()
    clock = time.process_time if chosen.cpu else time.perf_counter
    print(f"In a record of its own, {temporary_record.folder.name}")
    head = f"{'page':<18}{'shown':>7}{'page ms':>9}{'bare ms':>9}{'ratio':>7}{'growth':>8}"
    print(f"{'runs':>8}  {head}")
    record, before = Record(), {}
    for runs in chosen.runs:
        record.grow_to(runs)
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
        for name, shown, page, raw in measure(record, chosen.repeat, clock):
            growth = f"{page / before[name]:.2f}" if name in before else "–"
            before[name] = page
            print(
                f"{runs:>8}  {name:<18}{shown:>7}{1000 * page:>9.1f}{1000 * raw:>9.1f}"
                f"{page / raw:>7.1f}{growth:>8}",
                flush=True,
            )


if __name__ == "__main__":
    main()

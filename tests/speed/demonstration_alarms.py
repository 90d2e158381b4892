"""Print how often each bench of the demonstration laboratory is called, when, and why.

    .venv/bin/python -m tests.speed.demonstration_alarms [--seeds 200]

Benches, their truths, the changed head and the bench log are the demonstration's. Approved values
are simulated directly: each the mean of three runs with that bench's scatter, on the days its
groups meet. On the bench whose head is changed the proposed break is taken as merged, so that the
step has to be found from the values, then as confirmed, and the step across it is looked at; for
the other benches it is confirmed.

An alarm is a value that goes beyond its limits or takes the weighted mean beyond them, as in the
promise (at most 0.05 within 8 values of an unchanged bench). It is counted in every window of 8
values from the fourth on; the worst of these windows is found after the fact, so it lies above its
own probability by chance, and the mean of the windows is printed beside it.
"""

from tests.speed import temporary_record  # isort: skip

import argparse
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

import numpy as np
from django.utils import timezone

from labbook import clock
from labbook.demonstration.bench_log import keep_log
from labbook.demonstration.build import MORNING, SET_UP_BEFORE, Slot, plan_slots
from labbook.demonstration.course_dates import YEAR, at_local, term_dates
from labbook.demonstration.laboratory import Laboratory, change_part, found_laboratory
from labbook.demonstration.scenario import Plan, Scenario
from labbook.lookups.judging import judge_histories
from labbook.lookups.phases import BenchHistory, phases_of
from labbook.lookups.points import Point
from labbook.lookups.what_happened import steps_across, what_happened
from labbook.models import Bench, PhaseBreak
from labbook.models.standardizations import Approval

RUNS, WINDOW, FIRST_OF_CAUSES = 3, 8, 3
APPROVED_AFTER = timedelta(hours=3)
BEGINNING = datetime(1900, 1, 1, tzinfo=timezone.get_default_timezone())


@dataclass
class Tally:
    """Of one bench over all seeds: alarms by value, first calls, and how they were explained."""

    alarms: list[np.ndarray] = field(default_factory=list)
    called_at: list[datetime] = field(default_factory=list)
    kinds: list[str] = field(default_factory=list)
    dated: int = 0
    caused: int = 0
    alone: int = 0


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=200)
    seeds = parser.parse_args().seeds
    print(f"In a record of its own, {temporary_record.folder.name}; {seeds} seeds")
    laboratory, slots, changed_at = set_up()
    tallies = {bench.code: Tally() for bench in laboratory.benches}
    steps: list[tuple[float, float]] = []
    for seed in range(seeds):
        points = simulate(laboratory, slots, changed_at, np.random.default_rng([seed, 7]))
        for row in looked_at(laboratory, points):
            tally(tallies[row.bench.code], row, laboratory, points, changed_at)
        steps += step_across_change(laboratory, points)
    show(tallies, changed_at)
    show_steps(steps)


def set_up() -> tuple[Laboratory, list[Slot], datetime]:
    """The demonstration's benches and log, and every group's afternoon up to today."""
    now = timezone.now()
    dates = term_dates(Plan.terms, clock.today())
    slots = plan_slots(Plan(), dates)
    started = at_local(dates[0].starts - SET_UP_BEFORE, MORNING)
    with clock.at(started):
        laboratory = found_laboratory(Scenario(), started)
    halfway = slots[len(slots) // 2].visit
    changed_at = at_local(halfway.day - timedelta(days=1), MORNING)
    with clock.at(changed_at):
        change_part(laboratory, changed_at)
    keep_log(laboratory, now)
    return laboratory, slots, changed_at


def simulate(
    laboratory: Laboratory, slots: Sequence[Slot], changed_at: datetime, rng: np.random.Generator
) -> dict[str, list[Point]]:
    """What was approved on each bench: means of three runs about the truth of the day."""
    points: dict[str, list[Point]] = {bench.code: [] for bench in laboratory.benches}
    for slot in slots:
        place = (slot.number - 1) % len(laboratory.benches)
        bench, truth = laboratory.benches[place], laboratory.scenario.benches[place]
        years = (slot.visit.starts - laboratory.started) / YEAR
        true = truth.true_heat_capacity(years, slot.visit.starts > changed_at)
        scatter = truth.scatter_factor * rng.uniform(0.002, 0.004)
        runs = true * (1.0 + scatter * rng.standard_normal(RUNS))
        at = slot.visit.starts + APPROVED_AFTER + timedelta(seconds=slot.number)
        approval = Approval(at, float(runs.mean()), float(runs.std(ddof=1)), None, RUNS)
        points[bench.code].append(Point(slot.number, bench.pk, "approved", "", "", approval))
    return points


def judged(
    laboratory: Laboratory, points: dict[str, list[Point]], breaks: list[PhaseBreak]
) -> list[BenchHistory]:
    found = [
        BenchHistory(
            bench,
            phases_of(
                points[bench.code], [cut for cut in breaks if cut.bench == bench], [], BEGINNING
            ),
            None,
            [],
        )
        for bench in laboratory.benches
    ]
    judge_histories(found)
    return found


def breaks_for(bench: Bench) -> list[PhaseBreak]:
    """The confirmed break, unless its own bench is looked at."""
    return list(PhaseBreak.objects.exclude(bench=bench))


def looked_at(laboratory: Laboratory, points: dict[str, list[Point]]) -> list[BenchHistory]:
    """Every bench as it is judged when it is looked at."""
    return [
        next(row for row in judged(laboratory, points, breaks_for(bench)) if row.bench == bench)
        for bench in laboratory.benches
    ]


def tally(
    kept: Tally,
    row: BenchHistory,
    laboratory: Laboratory,
    points: dict[str, list[Point]],
    changed_at: datetime,
) -> None:
    kept.alarms.append(np.array([one.is_beyond for one in row.judged]))
    called = [one.point.at for one in row.judged if one.standing == "out of line"]
    if not called:
        return
    kept.called_at.append(called[0])
    known = {code: [p for p in rows if p.at <= called[0]] for code, rows in points.items()}
    everyone = judged(laboratory, known, breaks_for(row.bench))
    own = next(found for found in everyone if found.bench == row.bench)
    explain(kept, own, everyone, changed_at)


def explain(
    kept: Tally, own: BenchHistory, everyone: list[BenchHistory], changed_at: datetime
) -> None:
    """What the page said had happened, on the day the bench was first called."""
    found = what_happened(own, everyone)
    assert found is not None
    kept.kinds.append(found.found.kind)
    kept.alone += bool(found.others and found.others.moved == (str(own.bench),))
    if found.earliest is not None and found.latest is not None:
        kept.dated += found.earliest <= changed_at <= found.latest
        kept.caused += any("head" in one.words for one in found.nearby[:FIRST_OF_CAUSES])


def step_across_change(
    laboratory: Laboratory, points: dict[str, list[Point]]
) -> list[tuple[float, float]]:
    cut = PhaseBreak.objects.get()
    everyone = judged(laboratory, points, [cut])
    own = next(found for found in everyone if found.bench == cut.bench)
    (step,) = steps_across(own)
    assert step.percent is not None and step.half_width_percent is not None
    return [(step.percent, step.half_width_percent)]


def show(tallies: dict[str, Tally], changed_at: datetime) -> None:
    truths = {truth.code: truth for truth in Scenario().benches}
    print(f"The head of one bench was changed on {changed_at:%Y-%m-%d}\n")
    print(
        f"{'bench':<6}{'truth':<22}{'alarm in 8':>11}{'worst 8':>16}{'out of line':>12}"
        f"{'first called (median)':>23}{'kind':>40}{'date':>6}{'cause':>6}{'alone':>6}"
    )
    for code, kept in tallies.items():
        truth, seeds = truths[code], len(kept.alarms)
        words = (
            f"drifts {100 * truth.drift_per_year:.1f} %/year" if truth.drift_per_year
            else f"steps {100 * (truth.step_factor - 1):.1f} %" if truth.step_factor != 1
            else f"scatter x {truth.scatter_factor:g}"
        )  # fmt: skip
        calls = len(kept.called_at)
        median = f"{sorted(kept.called_at)[calls // 2]:%Y-%m-%d}" if calls else "–"
        kinds = ", ".join(f"{kind} {kept.kinds.count(kind)}" for kind in sorted(set(kept.kinds)))
        found = (kept.dated, kept.caused) if truth.step_factor != 1 else ("–", "–")
        print(
            f"{code:<6}{words:<22}{in_windows(kept.alarms)}{calls / seeds:>12.3f}"
            f"{median:>23}{kinds:>40}{found[0]:>6}{found[1]:>6}{kept.alone:>6}"
        )


def in_windows(alarms: list[np.ndarray]) -> str:
    """Share of seeds with an alarm in eight values: all windows' mean, the worst and its error."""
    shape = min(len(row) for row in alarms)
    rows = np.array([row[:shape] for row in alarms])
    starts = range(3, shape - WINDOW + 1)
    shares = [float(rows[:, a : a + WINDOW].any(axis=1).mean()) for a in starts]
    error = np.sqrt(max(shares) * (1 - max(shares)) / len(alarms))
    return f"{np.mean(shares):>11.3f}{max(shares):>8.3f} ± {error:.3f}"


def show_steps(steps: list[tuple[float, float]]) -> None:
    true = 100 * (Scenario().laboratory["part_change"]["factor"] - 1)
    inside = np.mean([abs(percent - true) <= half for percent, half in steps])
    seen = np.mean([percent - half > 0 for percent, half in steps])
    print(
        f"\nWith the break confirmed: the step's 95 % interval holds the true {true:.1f} % in "
        f"{inside:.3f} of the seeds and leaves 0 out in {seen:.3f}"
    )


if __name__ == "__main__":
    main()

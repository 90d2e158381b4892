"""Print what the page says of the other benches when a bench is called, where the truth is known.

    .venv/bin/python -m tests.speed.common_cause_table [--seeds 200]

The demonstration's benches, one of them noisy, on the days its groups meet; in each account other
benches drift or step. Looked at is the first bench called out of line, on the day of its call and
eight weeks later.
"""

from tests.speed import demonstration_alarms  # isort: skip

import argparse
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from labbook.demonstration.laboratory import Laboratory
from labbook.demonstration.scenario import BenchTruth, Scenario
from labbook.lookups.points import Point
from labbook.lookups.what_happened import what_happened

LATER = timedelta(days=56)
KINDS = ("one", "all", "several", "none", "cannot tell", "nothing")


@dataclass(frozen=True)
class Account:
    """What is true: the benches that move, and how."""

    words: str
    moving: tuple[str, ...]
    drift_per_year: float = 0.0
    step_factor: float = 1.0

    def truths(self, benches: Sequence[BenchTruth]) -> list[BenchTruth]:
        """Only those moving do; scatter and place stay as they are."""
        moved = {"drift_per_year": self.drift_per_year, "step_factor": self.step_factor}
        still = {"drift_per_year": 0.0, "step_factor": 1.0}
        return [replace(b, **(moved if b.code in self.moving else still)) for b in benches]


EVERY = ("B1", "B2", "B3", "B4", "B5", "B6")
ACCOUNTS = (
    Account("one drifts 0.6 %/year", ("B2",), drift_per_year=0.006),
    Account("one drifts 1.2 %/year", ("B2",), drift_per_year=0.012),
    Account("one steps 1.2 %", ("B4",), step_factor=1.012),
    Account("all drift 0.6 %/year", EVERY, drift_per_year=0.006),
    Account("all drift 1.2 %/year", EVERY, drift_per_year=0.012),
    Account("all step 1.2 %", EVERY, step_factor=1.012),
    Account("two step 1.2 %", ("B1", "B4"), step_factor=1.012),
)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=200)
    seeds = parser.parse_args().seeds
    laboratory, slots, changed_at = demonstration_alarms.set_up()
    print(f"{seeds} seeds; the wrong one is another bench than moved\n")
    heads = "".join(f"{kind:>12}" for kind in (*KINDS, "wrong one"))
    print(f"{'truth':<24}{'said':<12}{'called':>7}{heads}")
    told = Scenario().benches
    for account in ACCOUNTS:
        laboratory.scenario.benches = account.truths(told)
        said = Counter[str](), Counter[str]()
        for seed in range(seeds):
            rng = np.random.default_rng([seed, 7])
            points = demonstration_alarms.simulate(laboratory, slots, changed_at, rng)
            ask(account, laboratory, points, said)
        for when, kinds in zip(("at the call", "8 weeks on"), said, strict=True):
            show(account.words, when, kinds)


def ask(
    account: Account,
    laboratory: Laboratory,
    points: dict[str, list[Point]],
    said: tuple[Counter[str], Counter[str]],
) -> None:
    """What is said of the first bench called that does move."""
    calls = [
        (one.point.at, row.bench.code)
        for row in demonstration_alarms.judged(laboratory, points, [])
        for one in row.judged
        if one.standing == "out of line" and row.bench.code in account.moving
    ]
    if not calls:
        return
    called, code = min(calls)
    for kinds, until in zip(said, (called, called + LATER), strict=True):
        kinds["called"] += 1
        kinds[said_of(code, until, account, laboratory, points)] += 1


def said_of(
    code: str,
    until: datetime,
    account: Account,
    laboratory: Laboratory,
    points: dict[str, list[Point]],
) -> str:
    known = {name: [p for p in rows if p.at <= until] for name, rows in points.items()}
    everyone = demonstration_alarms.judged(laboratory, known, [])
    own = next(row for row in everyone if row.bench.code == code)
    found = what_happened(own, everyone)
    if found is None or found.others is None:
        return "nothing"
    if found.others.kind == "one" and found.others.moved != (str(own.bench),):
        return "wrong one"
    return found.others.kind


def show(words: str, when: str, kinds: Counter[str]) -> None:
    calls = max(kinds["called"], 1)
    shares = "".join(f"{kinds[kind] / calls:>12.3f}" for kind in (*KINDS, "wrong one"))
    print(f"{words:<24}{when:<12}{kinds['called']:>7}{shares}")


if __name__ == "__main__":
    main()

"""How often the look for likeness mentions honest work, and how often it finds what was copied.

    python -m tests.speed.likeness_rates --terms 500

An honest term is simulated: groups, benches with different thermometers, loggers at different
intervals and some readings typed. Into others one run is seeded: copied exactly, started later,
offset, with noise put upon it, with every tenth reading altered, or invented. How people invent
digits is a simple model from memory: they avoid 0 and repeats, and draw curves too evenly.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from math import sqrt

import numpy as np

from reduction import likeness
from reduction.likeness.evenness import LineScatter, Replicates, close_replicates, even_lines
from reduction.likeness.last_digits import free_digits, last_digit, uneven_digits
from reduction.likeness.masses import Weighing, alike_masses
from reduction.likeness.series import Series, alike_series
from reduction.simulate import Firing, thermogram
from reduction.thermogram import fit_line

GROUPS, RUNS, BENCHES = 16, 6, 6
STEPS_K = (0.001, 0.001, 0.01, 0.001, 0.0001, 0.001)
TYPED = ((30.0, 300.0), (15.0, 780.0), (30.0, 1200.0))
INTERVALS_S = (5.0, 10.0, 2.0, 10.0, 5.0)
RELEASES: tuple[tuple[tuple[float, ...], float | None], ...] = (
    ((46.0,), None), ((38.0, 12.0), None), ((34.0, 78.0), 0.2),
)  # fmt: skip
Rng = np.random.Generator


@dataclass(frozen=True)
class Term:
    weighings: list[Weighing]
    series: list[Series]
    bench_of: dict[int, int]
    group_of: dict[int, int]
    replicates: list[Replicates]


def honest_term(rng: Rng) -> Term:
    """Runs of groups, each at one bench; two visits of three replicates."""
    weighings, series, replicates = [], [], []
    bench_of, group_of = {}, {}
    tares = [float(rng.uniform(11.8, 13.2)) for _ in range(BENCHES)]
    for group in range(GROUPS):
        bench, is_typed = group % BENCHES, group % 5 == 0
        scatter = float(rng.uniform(0.6, 1.8))
        for visit in (0, 1):
            values = tuple(float(c) for c in 10_000 * (1 + 0.002 * scatter * rng.normal(size=3)))
            replicates.append(Replicates(group, 2 * group + visit, values, 12.0, 26.0, 40.0))
        for number in range(RUNS):
            run = group * RUNS + number
            bench_of[run], group_of[run] = bench, group
            tare = round(tares[bench] + rng.normal(0, 0.0004), 4)
            charge = rng.uniform(0.95, 1.03) if number < 4 else rng.uniform(0.55, 0.68)
            gross = Decimal(f"{tare + charge:.4f}")
            weighings.append(Weighing(run, group, bench, gross, Decimal(f"{tare:.4f}")))
            series.append(one_series(rng, run, STEPS_K[bench], is_typed))
    return Term(weighings, series, bench_of, group_of, replicates)


def one_series(rng: Rng, run: int, step_k: float, is_typed: bool) -> Series:
    release, slow_share = RELEASES[rng.integers(len(RELEASES))]
    start = rng.uniform(22.0, 24.6)
    firing = Firing(
        rise_k=rng.choice([2.6, 1.2]) * rng.uniform(0.93, 1.03),
        start_c=start,
        convergence_c=start + rng.uniform(-1.2, 3.4),
        leak_per_s=3.2e-5 * rng.uniform(0.8, 1.2),
        stirring_k_per_s=rng.uniform(1e-6, 6e-6),
        release_s=tuple(constant * rng.uniform(0.9, 1.1) for constant in release),
        slow_share=slow_share,
        cadence_s=TYPED if is_typed else INTERVALS_S[rng.integers(len(INTERVALS_S))],
        noise_k=rng.uniform(0.0003, 0.0008),
        resolution_k=step_k,
        seed=int(rng.integers(2**31)),
    )
    return Series(run, *thermogram(firing), step_k)


# --- what each detector says of a term ---------------------------------------------------------


def masses_of(term: Term) -> int:
    return len(alike_masses(term.weighings))


def series_of(term: Term) -> int:
    return len(alike_series(term.series))


def digits_of(term: Term) -> int:
    charges: dict[int, list[int]] = {}
    readings: dict[int, list[int]] = {}
    for weighing in term.weighings:
        charges.setdefault(weighing.group, []).append(last_digit(weighing.gross))
    for one in term.series:
        decimals = round(-np.log10(one.step_k))
        typed = [Decimal(f"{value:.{decimals}f}") for value in one.temperature_c]
        readings.setdefault(term.group_of[one.run], []).extend(free_digits(typed))
    return len(uneven_digits({"charge": charges, "readings": readings}))


def lines_of(term: Term) -> int:
    return len(even_lines([line for one in term.series for line in lines(term, one)]))


def lines(term: Term, one: Series) -> Iterator[LineScatter]:
    for period, inside in (("fore", one.time_s <= 300.0), ("after", one.time_s >= 780.0)):
        t, y = one.time_s[inside], one.temperature_c[inside]
        fitted = fit_line(t, y)
        across = abs(float(fitted.slope)) * float(np.ptp(t))
        sd, count = float(fitted.residual_sd_k), int(fitted.count)
        bench = term.bench_of[one.run]
        yield LineScatter(one.run, bench, period, sd, count, across, one.step_k)


def replicates_of(term: Term) -> int:
    return len(close_replicates(term.replicates))


DETECTORS: dict[str, tuple[Callable[[Term], int], float]] = {
    "masses": (masses_of, likeness.MASSES),
    "series": (series_of, likeness.SERIES),
    "last digits": (digits_of, likeness.DIGITS),
    "lines": (lines_of, likeness.LINES),
    "replicates": (replicates_of, likeness.REPLICATES),
}


# --- seeded -------------------------------------------------------------------------------------


def copied(rng: Rng, one: Series, how: str) -> Series:
    """The readings of a run as another group might hand them in."""
    t, y, step = one.time_s, one.temperature_c, one.step_k
    if how == "started later":
        t, y = t[5:] - t[5], y[5:]
    elif how == "offset":
        y = y + 37 * step
    elif how.startswith("noise"):
        y = y + rng.normal(0.0, float(how.split()[1]) / 1000, y.size)
    elif how == "tenth altered":
        y = y + (rng.random(y.size) < 0.1) * rng.integers(-5, 6, y.size) * step
    elif how == "half of it":
        t, y = t[: t.size // 2], y[: y.size // 2]
    return Series(10_000, t, np.round(y / step) * step, step)


COPIES = (
    "exact", "started later", "offset", "noise 0.3 mK", "noise 0.6 mK", "noise 1 mK",
    "tenth altered", "half of it",
)  # fmt: skip


def finds_copy(rng: Rng, how: str, typed: bool) -> bool:
    """Whether the pair is mentioned where one run of the term is a copy of another."""
    term = honest_term(rng)
    sources = [one for one in term.series if (term.group_of[one.run] % 5 == 0) == typed]
    source = sources[rng.integers(len(sources))]
    found = alike_series([*term.series[:-1], copied(rng, source, how)])
    return any(set(one.runs) == {source.run, 10_000} for one in found)


def finds_masses(rng: Rng, count: int) -> bool:
    """Whether two groups are mentioned of which one copied so many charges with their crucible."""
    term = honest_term(rng)
    first = [one for one in term.weighings if one.group == 0]
    second = [one for one in term.weighings if one.group == 1]
    copies = [
        Weighing(mine.run, mine.group, mine.bench, theirs.gross, theirs.tare)
        for mine, theirs in zip(second[:count], first, strict=False)
    ]
    rest = [one for one in term.weighings if one not in second[:count]]
    return any(one.groups == (0, 1) for one in alike_masses([*rest, *copies]))


# From memory: people take 0 and 5 for too round, like 3 and 7, and hardly repeat a digit.
LIKED = np.array([0.4, 0.9, 1.1, 1.4, 1.0, 0.6, 1.1, 1.5, 1.1, 0.9])


def invented_digits(rng: Rng, count: int) -> list[int]:
    digits: list[int] = []
    while len(digits) < count:
        digit = int(rng.choice(10, p=LIKED / LIKED.sum()))
        if not digits or digit != digits[-1]:
            digits.append(digit)
    return digits


def finds_digits(rng: Rng, count: int) -> bool:
    groups = {group: [int(d) for d in rng.integers(0, 10, count)] for group in range(1, GROUPS)}
    groups[0] = invented_digits(rng, count)
    return any(one.group == 0 for one in uneven_digits({"charge": groups}))


def finds_even_line(rng: Rng, step_k: float) -> bool:
    """Whether a fore period that scatters by a tenth of the usual is mentioned."""
    term = honest_term(rng)
    found = [line for one in term.series for line in lines(term, one)]
    made = LineScatter(10_000, STEPS_K.index(step_k), "fore", 0.05e-3, 61, 0.0113, step_k)
    return any(one.line is made for one in even_lines([*found, made]))


def finds_close(rng: Rng) -> bool:
    """Whether three heat capacities within 0.1 J/K are mentioned."""
    term = honest_term(rng)
    values = tuple(float(c) for c in 10_000 + rng.uniform(-0.05, 0.05, 3))
    made = Replicates(99, 99, values, 12.0, 26.0, 40.0)
    return any(one.replicates is made for one in close_replicates([*term.replicates, made]))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--terms", type=int, default=500)
    parser.add_argument("--copies", type=int, default=100)
    asked = parser.parse_args()
    rng = np.random.default_rng(1)
    mentions: Counter[str] = Counter()
    for _ in range(asked.terms):
        term = honest_term(rng)
        for name, (detector, _level) in DETECTORS.items():
            mentions[name] += detector(term)
    print(f"{asked.terms} honest terms of {GROUPS} groups, {RUNS} runs each: mentions per term")
    for name, (_detector, level) in DETECTORS.items():
        rate = mentions[name] / asked.terms
        error = sqrt(max(mentions[name], 1)) / asked.terms
        print(f"  {name:12} {rate:.3f} ± {error:.3f}   allowed {level:.3f}")
    print(f"  together     {mentions.total() / asked.terms:.3f}           {likeness.PER_TERM:.3f}")
    print(f"\nfound of {asked.copies} seeded: from a logger, typed")
    for how in COPIES:
        rates = [
            np.mean([finds_copy(rng, how, typed) for _ in range(asked.copies)])
            for typed in (False, True)
        ]
        print(f"  {how:16} {rates[0]:.2f}  {rates[1]:.2f}")
    for count in (1, 2, 3):
        rate = np.mean([finds_masses(rng, count) for _ in range(asked.copies)])
        print(f"  {count} charges with their crucible {rate:.2f}")
    for count in (24, 60, 120, 240):
        rate = np.mean([finds_digits(rng, count) for _ in range(asked.copies)])
        print(f"  {count} invented last digits {rate:.2f}")
    for step_k in (0.0001, 0.001):
        rate = np.mean([finds_even_line(rng, step_k) for _ in range(20)])
        print(f"  an even fore period, steps of {1000 * step_k:g} mK {rate:.2f}")
    print(f"  replicates too close {np.mean([finds_close(rng) for _ in range(20)]):.2f}")


if __name__ == "__main__":
    main()

"""Charges that agree between groups: told where chance does not, and only there."""

from decimal import Decimal

import numpy as np
import pytest

from reduction.likeness.chance import chance_of_any
from reduction.likeness.masses import Weighing, alike_masses, coincidences

RUNS = 6


def honest(seed: int, groups: int = 12, decimals: int = 4) -> list[Weighing]:
    """Charges spread evenly over 0.95 g to 1.03 g, in crucibles of 12 g to 13 g."""
    rng = np.random.default_rng(seed)
    found = []
    for run in range(groups * RUNS):
        tare = round(rng.uniform(12.0, 13.0), decimals)
        gross = tare + rng.uniform(0.95, 1.03)
        weighed = (Decimal(f"{mass:.{decimals}f}") for mass in (gross, tare))
        found.append(Weighing(run, run // RUNS, run // RUNS % 4, *weighed))
    return found


def with_copies(count: int, step: Decimal = Decimal(0)) -> list[Weighing]:
    """The second group has so many of the first one's weighings, its crucible off by a step."""
    term = honest(4)
    for place in range(count):
        theirs, mine = term[place], term[RUNS + place]
        term[RUNS + place] = Weighing(
            mine.run, mine.group, mine.bench, theirs.gross + step, theirs.tare + step
        )
    return term


def test_honest_terms_agree_as_often_as_the_birthday_count_has_it() -> None:
    # Pairs of different groups times the chance of one pair: 0.1 mg of 80 mg, evenly spread.
    pairs = 12 * 11 / 2 * RUNS**2
    found, expected = np.mean([coincidences(honest(seed)) for seed in range(60)], axis=0)
    assert expected == pytest.approx(pairs / 800, rel=0.12)
    assert found == pytest.approx(pairs / 800, rel=0.15)
    # That some two of 72 agree in 800 places is next to certain, so one pair says nothing.
    assert chance_of_any(12 * RUNS, 800) > 0.95


def test_an_honest_term_is_seldom_mentioned() -> None:
    assert sum(len(alike_masses(honest(seed))) for seed in range(100)) <= 4


def test_one_equal_charge_says_nothing_and_three_do() -> None:
    assert alike_masses(with_copies(1, Decimal("0.0123"))) == []
    (found,) = alike_masses(with_copies(3, Decimal("0.0123")))
    assert found.groups == (0, 1) and len(found.charges) >= 3 and found.both == ()


def test_crucible_and_charge_alike_on_two_benches_say_more() -> None:
    (found,) = alike_masses(with_copies(1))
    assert [(a.run, b.run) for a, b in found.both] == [(0, RUNS)]


def test_a_coarse_balance_makes_equal_charges_common() -> None:
    coarse = [honest(seed, decimals=2) for seed in range(20)]
    assert sum(len(alike_masses(term)) for term in coarse) <= 1
    assert all(coincidences(term)[0] > 100 for term in coarse)


def test_nothing_is_said_of_a_term_without_charges() -> None:
    assert alike_masses([]) == [] and coincidences([]) == (0, 0.0)

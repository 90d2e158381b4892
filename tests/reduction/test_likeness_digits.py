"""Last digits: χ² by simulation, against scipy and against what an instrument does by itself."""

from decimal import Decimal

import numpy as np
import pytest
from scipy import stats

from reduction.likeness.last_digits import (
    chance_of,
    chi_square,
    free_digits,
    last_digit,
    uneven_digits,
)

EVEN = np.full(10, 0.1)


def digits(
    rng: np.random.Generator, count: int, of: tuple[int, ...] = tuple(range(10))
) -> list[int]:
    return [int(digit) for digit in rng.choice(of, count)]


def test_chi_square_is_scipys() -> None:
    counts = np.array([18, 7, 12, 9, 11, 4, 10, 13, 9, 7], dtype=float)
    assert chi_square(counts, EVEN) == pytest.approx(stats.chisquare(counts).statistic)
    shares = np.arange(1, 11) / 55
    expected = counts.sum() * shares
    assert chi_square(counts, shares) == pytest.approx(stats.chisquare(counts, expected).statistic)


def test_the_simulated_chance_is_that_of_the_table_for_many_digits() -> None:
    # With 400 digits the table of χ² (scipy.stats.chisquare) holds: 40 are expected in each cell.
    counts = (52, 38, 41, 29, 44, 35, 47, 36, 43, 35)
    assert chance_of(counts, tuple(EVEN)) == pytest.approx(stats.chisquare(counts).pvalue, abs=0.01)


def test_invented_digits_stand_out_among_honest_ones() -> None:
    rng = np.random.default_rng(1)
    groups = {group: digits(rng, 60) for group in range(9)} | {9: digits(rng, 60, (3, 4, 6, 7, 8))}
    (found,) = uneven_digits({"charge": groups})
    assert (found.group, found.kind, sum(found.counts)) == (9, "charge", 60)
    assert found.expected < 1e-3


def test_digits_that_never_repeat_are_told_by_the_binomial_law() -> None:
    rng = np.random.default_rng(5)
    never = [0]
    while len(never) < 100:
        never += [digit for digit in digits(rng, 1) if digit != never[-1]]
    (found,) = uneven_digits({"readings": {1: never}})
    assert found.is_about_repeats and found.repeats == 0
    assert found.repeats_expected == pytest.approx(9.9)
    # scipy.stats.binom: none of 99, each with a chance of a tenth; two tests of one group.
    assert found.expected == pytest.approx(2 * stats.binom.cdf(0, 99, 0.1), rel=1e-6)


def test_a_balance_that_reads_in_fives_is_nobodys_habit() -> None:
    rng = np.random.default_rng(2)
    assert uneven_digits({"charge": {group: digits(rng, 60, (0, 5)) for group in range(8)}}) == []


def test_honest_groups_are_seldom_mentioned() -> None:
    rng = np.random.default_rng(3)
    terms = [{group: digits(rng, 24) for group in range(16)} for _ in range(100)]
    assert sum(len(uneven_digits({"charge": term})) for term in terms) <= 7


def test_few_digits_say_nothing() -> None:
    assert uneven_digits({"charge": {1: [7] * 11, 2: [7] * 5}}) == []


def test_a_reading_near_the_one_before_lends_no_digit() -> None:
    typed = [Decimal(text) for text in ("22.081", "22.082", "22.095", "22.30", "22.35")]
    assert free_digits(typed) == [5, 0]
    assert last_digit(Decimal("12.50")) == 0

"""Whether last digits are an instrument's: people prefer some and repeat none, without noticing."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.special import bdtr, chdtrc

from reduction import likeness

Array = NDArray[np.float64]
FEWEST = 12
"""Digits below which nothing is said."""
TELLING = 100
"""Digits of the others from which they tell of the instrument."""
TRIALS = 50_000
SCREEN = 30.0
"""Only what the table of χ² puts within this factor of the level is simulated."""
SHARED = 1e-3
"""What all the others' digits show more clearly than this is the instrument's habit."""


@dataclass(frozen=True)
class DigitsUneven:
    """A group's last digits: how often each from 0 to 9, and how many repeat the one before.

    expected: groups with so uneven digits, or so few repeats, by chance in the term.
    """

    group: int
    kind: str
    counts: tuple[int, ...]
    repeats: int
    repeats_expected: float
    is_about_repeats: bool
    expected: float


def chi_square(counts: Array, shares: Array) -> float:
    """`Σ(O − E)²/E` with E = n·share; arrays of shape (cells,), all shares above 0."""
    expected = counts.sum() * shares
    return float(((counts - expected) ** 2 / expected).sum())


def chance_of(counts: Sequence[int], shares: Sequence[float]) -> float:
    """The chance of a χ² at least as large where each cell has its share, by simulation.

    The table of χ² does not hold for a few digits in ten cells, hence `TRIALS` draws, always the
    same ones: p = (more + 1)/(TRIALS + 1).
    """
    observed = chi_square(np.array(counts, dtype=float), np.array(shares))
    drawn = _drawn(int(sum(counts)), tuple(shares))
    more = drawn.size - int(drawn.searchsorted(observed * (1.0 - 1e-12)))
    return (more + 1) / (drawn.size + 1)


@lru_cache(maxsize=32)
def _drawn(n: int, shares: tuple[float, ...]) -> Array:
    """χ² of simulated counts in order; a table of constants, the same whoever asks."""
    p = np.array(shares)
    counts = np.random.default_rng(20).multinomial(n, p / p.sum(), TRIALS)
    expected = n * p
    return np.sort(((counts - expected) ** 2 / expected).sum(axis=1))


def uneven_digits(
    kinds: Mapping[str, Mapping[int, Sequence[int]]], level: float = likeness.DIGITS
) -> list[DigitsUneven]:
    """Groups whose last digits of a kind (charge, bucket, readings) are no instrument's.

    `kinds` holds by kind and group the last digits, 0 to 9, in the order they were written. They
    are held against even shares, or, where all other groups' digits are uneven as well (a balance
    that reads in fives), against theirs; repeats, below, against the binomial law. Told where
    chance gives fewer than `level` such groups in the term; both tests count.
    """
    asked = [
        (kind, group, digits, _shares(group, groups))
        for kind, groups in kinds.items()
        for group, digits in groups.items()
        if len(digits) >= FEWEST
    ]
    comparisons = 2 * len(asked)
    found = []
    for kind, group, digits, shares in asked:
        uneven = _uneven(digits, shares, level / comparisons)
        repeats, usual, few = _repeats(digits, shares)
        expected = min(uneven, few) * comparisons
        if expected <= level:
            counts = tuple(int(count) for count in _counts(digits))
            found.append(DigitsUneven(group, kind, counts, repeats, usual, few < uneven, expected))
    return sorted(found, key=lambda one: one.expected)


def _uneven(digits: Sequence[int], shares: Array, level: float) -> float:
    """The chance of so uneven digits; that of the table where it is far from the level."""
    counts = _counts(digits)
    by_table = float(chdtrc(shares.size - 1, chi_square(counts, shares)))
    if by_table > SCREEN * level:
        return by_table
    return chance_of([int(count) for count in counts], tuple(shares))


def _repeats(digits: Sequence[int], shares: Array) -> tuple[int, float, float]:
    """How many digits repeat the one before, how many were to be expected, the chance of so few.

    Each repeats with the probability `Σ share²`.
    """
    repeated = sum(a == b for a, b in pairwise(digits))
    probability = float((shares**2).sum())
    chance = float(bdtr(repeated, len(digits) - 1, probability))
    return repeated, probability * (len(digits) - 1), chance


def _counts(digits: Sequence[int]) -> Array:
    return np.bincount(np.array(digits, dtype=int), minlength=10).astype(float)


def _shares(group: int, groups: Mapping[int, Sequence[int]]) -> Array:
    """Even, unless the digits of all others say that the instrument itself prefers some."""
    even = np.full(10, 0.1)
    others = _counts(
        [digit for other, digits in groups.items() if other != group for digit in digits]
    )
    if others.sum() < TELLING or float(chdtrc(9, chi_square(others, even))) > SHARED:
        return even
    return np.asarray((others + 1.0) / (others.sum() + 10.0))


def last_digit(typed: Decimal) -> int:
    """The last digit as typed: 3 of 12.813, 0 of 12.50."""
    return typed.as_tuple().digits[-1]


def free_digits(readings: Iterable[Decimal]) -> list[int]:
    """Last digits of typed readings ten steps or more from the one before: led by nothing.

    In the rating periods a reading's last digit follows from its neighbours', so those say nothing.
    """
    found, before = [], None
    for typed in readings:
        step = Decimal(1).scaleb(int(typed.as_tuple().exponent))
        if before is not None and abs(typed - before) >= 10 * step:
            found.append(last_digit(typed))
        before = typed
    return found

"""Charges that agree to the last digit between groups, beside how many would by chance."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from reduction import likeness
from reduction.likeness.chance import at_least

Array = NDArray[np.float64]
NEAR_G = 0.02
"""Charges within this are how usual a charge is; a pellet press is not more even (from memory)."""


@dataclass(frozen=True)
class Weighing:
    """The two weighings of a run [g], as typed: their last digit says how finely was read."""

    run: int
    group: int
    bench: int
    gross: Decimal
    tare: Decimal

    @property
    def charge(self) -> Decimal:
        return self.gross - self.tare


@dataclass(frozen=True)
class MassesAlike:
    """Two groups with agreeing charges; `expected` is how many such pairs of groups chance gives.

    `both` are the pairs of runs on different benches in which crucible and charge agree too.
    """

    groups: tuple[int, int]
    charges: tuple[tuple[Weighing, Weighing], ...]
    both: tuple[tuple[Weighing, Weighing], ...]
    by_chance: float
    expected: float


@dataclass(frozen=True, eq=False)
class _Agreements:
    """Every two weighings held against each other, arrays of shape (weighings, weighings).

    Whether charge (and crucible too, on different benches) agree, and the chance of either.
    `member` says who weighed, shape (weighings, groups).
    """

    charge: Array
    both: Array
    charge_chance: Array
    both_chance: Array
    member: Array

    @classmethod
    def of(cls, weighings: Sequence[Weighing], groups: Sequence[int]) -> "_Agreements":
        charges = [weighing.charge for weighing in weighings]
        tares = [weighing.tare for weighing in weighings]
        steps = np.array([_step(charge) for charge in charges])
        benches = np.array([weighing.bench for weighing in weighings])
        elsewhere = benches[:, None] != benches
        step = np.maximum(steps[:, None], steps)
        same, chance = _same(charges), _chance(charges, step)
        return cls(
            charge=same,
            both=same * _same(tares) * elsewhere,
            charge_chance=chance,
            both_chance=chance * _chance(tares, step) * elsewhere,
            member=np.array([[one.group == group for group in groups] for one in weighings], float),
        )

    def between_groups(self, of_pairs: Array) -> Array:
        """The sum over the weighings of two groups, shape (groups, groups)."""
        return np.asarray(self.member.T @ of_pairs @ self.member)


def alike_masses(
    weighings: Sequence[Weighing], level: float = likeness.MASSES
) -> list[MassesAlike]:
    """Pairs of groups whose charges agree more often than chance has it, the rarest first.

    Two charges agree by chance with a probability of the step of the balance times the density of
    the term's charges there. The coincidences of two groups are held against Poisson's law with
    the sum of these. A crucible may be shared on a bench, so its mass tells something between
    benches only. A pair is told where chance gives fewer than `level` such pairs in the term.
    """
    groups = sorted({weighing.group for weighing in weighings})
    if len(groups) < 2:
        return []
    all_pairs = _Agreements.of(weighings, groups)
    found, found_both = map(all_pairs.between_groups, (all_pairs.charge, all_pairs.both))
    chance, chance_both = map(
        all_pairs.between_groups, (all_pairs.charge_chance, all_pairs.both_chance)
    )
    told = []
    for a, b in np.argwhere(np.triu(found, 1) > 0).tolist():
        # Of two ways to agree the rarer is taken, so either counts as a comparison.
        rarest = min(
            at_least(round(found[a, b]), chance[a, b]),
            at_least(round(found_both[a, b]), chance_both[a, b]),
        )
        expected = rarest * len(groups) * (len(groups) - 1)
        if expected <= level:
            two = groups[a], groups[b]
            charges = _agreeing(weighings, all_pairs.charge, two)
            both = _agreeing(weighings, all_pairs.both, two)
            told.append(MassesAlike(two, charges, both, float(chance[a, b]), expected))
    return sorted(told, key=lambda one: one.expected)


def coincidences(weighings: Sequence[Weighing]) -> tuple[int, float]:
    """How many pairs of charges of different groups agree in the term, and how many by chance."""
    groups = sorted({weighing.group for weighing in weighings})
    if len(groups) < 2:
        return 0, 0.0
    all_pairs = _Agreements.of(weighings, groups)
    found = np.triu(all_pairs.between_groups(all_pairs.charge), 1).sum()
    return round(float(found)), float(
        np.triu(all_pairs.between_groups(all_pairs.charge_chance), 1).sum()
    )


def _agreeing(
    weighings: Sequence[Weighing], which: Array, groups: tuple[int, int]
) -> tuple[tuple[Weighing, Weighing], ...]:
    """The pairs of weighings of the first and the second group that agree."""
    pairs = ((weighings[a], weighings[b]) for a, b in np.argwhere(which > 0).tolist())
    return tuple(pair for pair in pairs if (pair[0].group, pair[1].group) == groups)


def _same(masses: Sequence[Decimal]) -> Array:
    """Which masses agree to the last digit, shape (masses, masses)."""
    numbers: dict[Decimal, int] = {}
    which = np.array([numbers.setdefault(mass, len(numbers)) for mass in masses])
    return np.asarray(which[:, None] == which, dtype=float)


def _chance(masses: Sequence[Decimal], step: Array) -> Array:
    """The chance of every two masses to agree: the step times how dense they lie there."""
    density = _densities(masses)
    return np.asarray(np.minimum(1.0, step * (density[:, None] + density) / 2.0))


def _step(mass: Decimal) -> float:
    """One unit of the last digit [g]."""
    return float(Decimal(1).scaleb(int(mass.as_tuple().exponent)))


def _densities(masses: Sequence[Decimal]) -> Array:
    """The density [1/g] of all masses around each of them, itself counted once."""
    values = np.array([float(mass) for mass in masses])
    in_order = np.sort(values)
    near = in_order.searchsorted(values + NEAR_G, "right") - in_order.searchsorted(values - NEAR_G)
    return np.asarray(near / (2.0 * NEAR_G * max(1, values.size)))


def numbers_of(pairs: Sequence[tuple[Weighing, Weighing]]) -> Iterator[int]:
    """The runs in agreeing pairs."""
    for pair in pairs:
        yield from (weighing.run for weighing in pair)

"""Sums over stretches of readings of very different lengths, without a loop over readings."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Stretches:
    """Stretches `begin` up to `end` of a long array, shape (stretches,), to be packed end to end.

    A packed array has one spare slot behind, 0, so that the last stretch may be empty.
    """

    begin: Index
    end: Index

    @cached_property
    def count(self) -> Index:
        """The number of readings of each stretch."""
        return np.asarray(self.end - self.begin)

    @cached_property
    def start(self) -> Index:
        """Where each stretch begins when packed."""
        return np.asarray(np.cumsum(self.count) - self.count)

    @cached_property
    def last(self) -> Index:
        """Where the last reading of each stretch that has any lies when packed."""
        return np.asarray((self.start + self.count)[self.count > 0] - 1)

    def pack(self, values: Array) -> Array:
        """A fresh copy of the stretches of an array over all readings."""
        pieces = [values[a:b] for a, b in zip(self.begin.tolist(), self.end.tolist(), strict=True)]
        return np.concatenate([*pieces, np.zeros(1)])

    def along(self, values: Array) -> Array:
        """One value a stretch repeated for each of its readings."""
        return np.repeat(np.append(values, 0.0), np.append(self.count, 1))

    def sums(self, packed: Array) -> Array:
        """The sum of each stretch, 0 where it is empty."""
        return np.where(self.count > 0, np.add.reduceat(packed, self.start), 0.0)

    def ranges(self, packed: Array) -> Array:
        """Largest less smallest of each stretch, −∞ where it is empty.

        The spare slot is no reading: the last stretch ends before it.
        """
        filled = packed[:-1] if packed.size > 1 else packed
        start = np.minimum(self.start, filled.size - 1)
        range_ = np.maximum.reduceat(filled, start) - np.minimum.reduceat(filled, start)
        return np.where(self.count > 0, range_, -np.inf)


def first_at_least(values: Array, begin: Index, end: Index, bound: Array) -> Index:
    """The first position from `begin` up to `end` whose value is no less than a bound.

    Values rise within each stretch; `end` where all are less. All stretches are halved at once.
    """
    low, high = begin.copy(), end.copy()
    for _ in range(int(np.max(end - begin, initial=0)).bit_length()):
        middle = (low + high) // 2
        less = (low < high) & (values[np.minimum(middle, values.size - 1)] < bound)
        low, high = np.where(less, middle + 1, low), np.where(less, high, middle)
    return low


def cut_by_readings(behind: Index, readings: int) -> list[slice]:
    """Slices over runs with about so many readings each, one run at least; one slice at least.

    `behind` is the number of readings up to the end of each run.
    """
    slices, first, before = [], 0, 0
    while first < behind.size:
        last = max(int(np.searchsorted(behind, before + readings, side="right")), first + 1)
        slices.append(slice(first, last))
        first, before = last, int(behind[last - 1])
    return slices or [slice(0, 0)]

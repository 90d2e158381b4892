"""Sequence numbers that were received, as a sorted list of closed intervals."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence

Interval = list[int]


def holds(intervals: Sequence[Sequence[int]], number: int) -> bool:
    """Whether a number is in one of the intervals.

    >>> holds([[1, 500], [502, 510]], 501)
    False
    """
    place = bisect_right(intervals, number, key=lambda interval: interval[0])
    return place > 0 and number <= intervals[place - 1][1]


def with_numbers(intervals: Iterable[Sequence[int]], numbers: Iterable[int]) -> list[Interval]:
    """The intervals with more numbers in them, those that touch joined.

    >>> with_numbers([[1, 500], [502, 510]], [501, 600])
    [[1, 510], [600, 600]]
    """
    joined: list[Interval] = []
    for first, last in sorted([(i[0], i[1]) for i in intervals] + [(n, n) for n in numbers]):
        if joined and first <= joined[-1][1] + 1:
            joined[-1][1] = max(joined[-1][1], last)
        else:
            joined.append([first, last])
    return joined

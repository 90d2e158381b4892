"""The simplest picture of a bench's past: the band of its earlier heat capacities."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Band:
    """Mean ± 3 s of n earlier values; the limits are None below two values."""

    n: int
    mean: float | None
    s: float | None
    lower: float | None
    upper: float | None


def band(values: Sequence[float]) -> Band:
    """`x̄ ± 3s` of earlier values, any unit; nothing is known from none, no spread from one."""
    numbers = np.asarray(values, dtype=float)
    if numbers.size == 0:
        return Band(0, None, None, None, None)
    mean = float(numbers.mean())
    if numbers.size == 1:
        return Band(1, mean, None, None, None)
    s = float(numbers.std(ddof=1))
    return Band(numbers.size, mean, s, mean - 3.0 * s, mean + 3.0 * s)

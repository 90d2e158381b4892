"""When a figure over groups may be shown, so that no group can be told from it.

A figure over fewer than `FEWEST_GROUPS` groups is withheld. So is what would let it follow by
subtraction: what a total leaves beside the parts shown must be of as many groups too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

FEWEST_GROUPS = 5
QUARTERS_FROM = 8
"""Groups from which a quartile is no longer one group's own value."""

FEW = f"withheld, for fewer than {FEWEST_GROUPS} groups"
SO_THAT_NONE_FOLLOWS = "withheld, so that another figure does not follow"
NONE = "no values"
ALL = "all of them"


@dataclass(frozen=True)
class Cell:
    """The figures over some groups, or why there are none. ``n`` is left out where withheld."""

    name: str
    n: int | None = None
    median: float | None = None
    lower: float | None = None
    upper: float | None = None
    withheld: str = ""

    def rounded(self, decimals: int) -> Cell:
        """To the figures that are printed: in full, a median may be one group's own value."""
        median, lower, upper = (
            None if value is None else round(value, decimals)
            for value in (self.median, self.lower, self.upper)
        )
        return replace(self, median=median, lower=lower, upper=upper)


@dataclass(frozen=True)
class Cells:
    """The parts of a term (its sections, or its benches) and all of it together."""

    parts: list[Cell]
    total: Cell


def cells_of(values: Mapping[str, Sequence[float]], whole: Sequence[float]) -> Cells:
    """What may be shown of each part's values, one a group, and of the whole they make up."""
    shown = {name for name, own in values.items() if len(own) >= FEWEST_GROUPS}
    few = {name for name, own in values.items() if 0 < len(own) < FEWEST_GROUPS}
    also = _also_withheld(values, shown, few)
    hidden = few | also
    parts = [_cell(name, own, _reason(name, own, also)) for name, own in values.items()]
    if len(whole) < FEWEST_GROUPS:
        return Cells(parts, _cell(ALL, whole, FEW if whole else NONE))
    follows = bool(hidden) and not _covered(values, hidden)
    return Cells(parts, _cell(ALL, whole, SO_THAT_NONE_FOLLOWS if follows else ""))


def _also_withheld(
    values: Mapping[str, Sequence[float]], shown: set[str], few: set[str]
) -> set[str]:
    """The smallest parts shown, one after the other, until no withheld part follows."""
    also: set[str] = set()
    by_size = sorted(shown, key=lambda name: (len(values[name]), name))
    while few and not _covered(values, few | also) and len(also) < len(by_size):
        also.add(by_size[len(also)])
    return also


def _covered(values: Mapping[str, Sequence[float]], hidden: set[str]) -> bool:
    """Whether what is left by subtraction is of enough groups, which are then of several parts."""
    return sum(len(values[name]) for name in hidden) >= FEWEST_GROUPS


def _reason(name: str, own: Sequence[float], also: set[str]) -> str:
    if not own:
        return NONE
    if len(own) < FEWEST_GROUPS:
        return FEW
    return SO_THAT_NONE_FOLLOWS if name in also else ""


def _cell(name: str, own: Sequence[float], withheld: str) -> Cell:
    """Never the smallest and the largest: they are always one group's."""
    if withheld:
        return Cell(name, withheld=withheld)
    lower, median, upper = (float(q) for q in np.quantile(own, (0.25, 0.5, 0.75)))
    if len(own) < QUARTERS_FROM:
        return Cell(name, len(own), median)
    return Cell(name, len(own), median, lower, upper)

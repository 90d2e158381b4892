"""Passages of steps that two runs have in common, and the shift at which they lie together."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
LENGTH = 6
"""Steps in a passage."""
LEAST_SURPRISE = 5.0
"""Together, so that a passage is no commonplace."""
MOST = 12
"""Runs that may share a passage before it is a commonplace after all."""
LARGEST = 512
"""Steps are told apart up to this size."""
VOTES = 2
"""Passages that must ask for the same shift."""


@dataclass(frozen=True, eq=False)
class Passages:
    """The steps of a run, and how surprising an agreement with each is, shape (n,)."""

    steps: Ints
    surprise: NDArray[np.float64]

    def telling(self) -> tuple[Ints, Ints]:
        """Keys of the passages that are no commonplace and where each begins."""
        if self.steps.size < LENGTH:
            return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
        clipped = np.clip(self.steps, -LARGEST, LARGEST - 1) + LARGEST
        windows = np.lib.stride_tricks.sliding_window_view(clipped, LENGTH)
        keys = windows @ (2 * LARGEST) ** np.arange(LENGTH, dtype=np.int64)
        sums = np.convolve(self.surprise, np.ones(LENGTH), mode="valid")
        places = np.flatnonzero(sums >= LEAST_SURPRISE)
        return keys[places], places


def shared_passages(runs: Sequence[Passages]) -> dict[tuple[int, int], int]:
    """By pair of runs, in order, the shift most of their common passages ask for.

    The second run lies `shift` steps later. The passages of all runs are sorted once, so that only
    runs with something in common are ever laid together.
    """
    told = [run.telling() for run in runs]
    keys = np.concatenate([keys for keys, _ in told]) if told else np.empty(0, dtype=np.int64)
    places = np.concatenate([places for _, places in told]) if told else keys
    owners = np.repeat(np.arange(len(told)), [keys.size for keys, _ in told])
    order = np.lexsort((places, owners, keys))
    return _most_asked_for(*_meetings(keys[order], owners[order], places[order]))


def _meetings(keys: Ints, owners: Ints, places: Ints) -> tuple[Ints, Ints, Ints]:
    """Every two runs that share a passage, and by how much the second must be laid later."""
    _, counts = np.unique(keys, return_counts=True)
    rare = np.repeat(counts <= MOST, counts)
    firsts, seconds, shifts = [], [], []
    for away in range(1, min(MOST, int(counts.max(initial=1)))):
        same = (keys[away:] == keys[:-away]) & rare[away:] & (owners[away:] != owners[:-away])
        firsts.append(owners[:-away][same])
        seconds.append(owners[away:][same])
        shifts.append(places[:-away][same] - places[away:][same])
    if not firsts:
        empty = np.empty(0, dtype=np.int64)
        return empty, empty, empty
    return np.concatenate(firsts), np.concatenate(seconds), np.concatenate(shifts)


def _most_asked_for(firsts: Ints, seconds: Ints, shifts: Ints) -> dict[tuple[int, int], int]:
    asked, votes = np.unique(np.stack([firsts, seconds, shifts]), axis=1, return_counts=True)
    found: dict[tuple[int, int], int] = {}
    for place in np.argsort(-votes, kind="stable"):
        if votes[place] < VOTES:
            break
        first, second, shift = (int(value) for value in asked[:, place])
        found.setdefault((first, second), shift)
    return found

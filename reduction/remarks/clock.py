"""What the clock of the readings did, in the order in which they came."""

import numpy as np
from numpy.typing import NDArray

from reduction.notes import WARN, Note, Thresholds

Array = NDArray[np.float64]


def clock_notes(time_s: Array, limits: Thresholds) -> list[Note]:
    """Jumps back and restarts of the clock, or the same time twice; times [s] as they came.

    A reading or two entered late are no jump: after a jump, several readings lie before the last.
    """
    numbers = np.flatnonzero(np.isfinite(time_s))
    time = time_s[numbers]
    begins = np.flatnonzero(np.diff(time) < 0.0) + 1
    ends = np.append(begins[1:], time.size)
    behind = np.array(
        [np.count_nonzero(time[b:e] <= time[b - 1]) for b, e in zip(begins, ends, strict=False)]
    )
    ahead = np.diff(time)[np.diff(time) > 0.0]
    usual = float(np.median(ahead)) if ahead.size else 0.0
    found = [
        _jump(time, int(begin), int(numbers[begin]) + 1, usual)
        for begin in begins[behind >= limits.clock_back_readings]
    ]
    if found:
        return found
    twice = _same_time(time)
    return [] if twice is None else [twice]


def _jump(time_s: Array, begin: int, number: int, usual_s: float) -> Note:
    before, now = float(time_s[begin - 1]), float(time_s[begin])
    back = f"from {before:g} s to {now:g} s".replace("-", "−")
    if min(abs(now - time_s[0]), abs(now)) <= 2.0 * usual_s:
        return Note(
            "logger_restarted",
            WARN,
            f"The logger restarted at reading {number}: its time returns {back}.",
            "Join the parts, or keep the one that holds the firing?",
        )
    return Note(
        "clock_back",
        WARN,
        f"The clock goes back {before + usual_s - now:g} s at reading {number}, {back}.",
        "Read as continuing, or leave one of the parts out?",
    )


def _same_time(time_s: Array) -> Note | None:
    values, counts = np.unique(time_s, return_counts=True)
    twice = values[counts > 1]
    if not twice.size:
        return None
    more = f" and at {twice.size - 1} more times" if twice.size > 1 else ""
    return Note(
        "same_time_twice",
        WARN,
        f"Two readings or more at {twice[0]:g} s{more}. All are kept.",
        "Mark the one to leave out.",
    )

"""The textbook charts that can be switched on, and how often each would cry wolf here."""

from __future__ import annotations

from dataclasses import dataclass

from reduction.drift import false_alarm_rate

from .judging import RULES
from .phases import BenchPhase


@dataclass(frozen=True)
class Switch:
    """One chart: the probability of a false alarm within the next 8 values of a sound bench."""

    key: str
    words: str
    n: int
    false_alarms: float | None

    @property
    def percent(self) -> float | None:
        return None if self.false_alarms is None else 100.0 * self.false_alarms


CHARTS = {
    "individuals": "Individuals and moving range",
    "ewma": "EWMA",
    "cusum": "CUSUM",
}
OWN_EWMA = "own-ewma"


def switches(phase: BenchPhase) -> list[Switch]:
    """The textbook charts, then our own limits, for the baseline this phase has."""
    n = baseline_count(phase)
    known = n >= RULES.fewest
    rows = [
        Switch(key, words, n, false_alarm_rate(key, n) if known else None)
        for key, words in CHARTS.items()
    ]
    own = false_alarm_rate("scheme", n) if known else None
    return [*rows, Switch(OWN_EWMA, "The EWMA of our own limits", n, own)]


def baseline_count(phase: BenchPhase) -> int:
    """How many values the limits of a textbook chart are found from."""
    baseline = phase.judgement.baseline if phase.judgement else None
    return min(baseline.n if baseline else 0, len(phase.counted))

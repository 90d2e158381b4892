"""What was measured while people, devices and pages were served."""

from __future__ import annotations

import http.client
import math
import statistics
import time
from collections import Counter, defaultdict
from dataclasses import dataclass, field

from .requests import Answer, ask

COMING_IN = "coming in: "


@dataclass
class Measured:
    """Durations in ms by what was asked, answers nobody expects, lags in s.

    What is asked before ``begins`` is counted by itself: everybody comes in at once.
    """

    begins: float = 0.0
    taken_ms: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    errors: Counter[str] = field(default_factory=Counter)
    lags_s: list[float] = field(default_factory=list)

    def ask(
        self, what: str, port: int, method: str, path: str, body: bytes = b"",
        headers: dict[str, str] | None = None, fine: tuple[int, ...] = (200,),
    ) -> Answer | None:  # fmt: skip
        """One request with its duration; None where the answer was none that is expected."""
        began = time.perf_counter()
        try:
            answer = ask(port, method, path, body, headers)
        except (OSError, http.client.HTTPException) as error:
            self.errors[f"{what}: {type(error).__name__}"] += 1
            return None
        kind = what if time.monotonic() >= self.begins else f"{COMING_IN}{what}"
        self.taken_ms[kind].append(1000 * (time.perf_counter() - began))
        if answer.status in fine:
            return answer
        self.errors[f"{what}: {answer.status}"] += 1
        return None

    def median_ms(self, what: str) -> float:
        taken = self.taken_ms.get(what)
        return statistics.median(taken) if taken else math.nan

    def of(self, kinds: list[str]) -> list[float]:
        return sorted(ms for kind in kinds for ms in self.taken_ms[kind])

    def show(self, what: str, kinds: list[str], width: int) -> None:
        """One line of the table: these kinds together."""
        taken = self.of(kinds)
        if taken:
            figures = len(taken), statistics.median(taken), p95_of(taken), taken[-1]
            print(
                f"{what:{width}}{figures[0]:7}{figures[1]:9.0f}{figures[2]:9.0f}{figures[3]:9.0f}"
            )


def p95_of(ordered: list[float]) -> float:
    return ordered[round(0.95 * (len(ordered) - 1))] if ordered else math.nan

"""A value not decided yet, beside its bench's own past."""

from __future__ import annotations

from dataclasses import dataclass

from reduction.drift import judge

from ..models import Bench
from .history import all_histories
from .judging import RULES, as_phase, pool_for
from .phases import BenchPhase, known


@dataclass(frozen=True)
class Beside:
    """How a bench would stand with the value; limits in J/K, None where nothing is known yet.

    ``phase`` is the bench's newest phase as it is without the value.
    """

    value: float
    standing: str
    is_outside: bool
    reasons: tuple[str, ...]
    lower: float | None
    upper: float | None
    centre: float | None
    n: int
    phase: BenchPhase


def beside_history(bench: Bench, value: float, runs: int) -> Beside:
    """How a mean of so many runs would be judged if it were approved now."""
    found = all_histories()
    own = next(history for history in found if history.bench.pk == bench.pk)
    judged = judge(as_phase(own.now, pool_for(bench, found), (value, runs)), RULES)
    lower, upper = known(judged.lower[-1]), known(judged.upper[-1])
    return Beside(
        value=value,
        standing=judged.states[-1],
        is_outside=lower is not None and upper is not None and not lower <= value <= upper,
        reasons=judged.reasons_at(len(judged.states) - 1),
        lower=lower,
        upper=upper,
        centre=known(judged.centre[-1]),
        n=int(judged.n[-1]),
        phase=own.now,
    )

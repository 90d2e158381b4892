"""How benches stand: one phase of a bench's history in, its states, limits and sentences out."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reduction.drift.baselines import Benches
from reduction.drift.pooling import UNKNOWN, Scatter
from reduction.drift.scheme import STATES, TOO_FEW, Baseline, Rules
from reduction.drift.walk import Track, walk
from reduction.drift.words import Moment, explain, nothing_yet

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Counts = NDArray[np.int64]


@dataclass(frozen=True)
class Phase:
    """The values of one bench since its parts, water or thermometer last changed, in order.

    `values` [J/K] of shape (n,); `excluded` marks those with a proven cause, kept out of all
    statistics; `u` [J/K] their standard uncertainties, 0 or None where unknown: no value is
    judged more sharply than its own uncertainty allows, known to `u_degrees` of freedom. `pool` is
    the scatter of the other benches and past phases. `frozen` limits hold from the value with
    index `frozen_from` on.
    Raises ValueError for shapes that differ or values that are not finite.
    """

    values: ArrayLike
    excluded: ArrayLike | None = None
    u: ArrayLike | None = None
    u_degrees: float = inf
    pool: Scatter = UNKNOWN
    frozen: Baseline | None = None
    frozen_from: int = 0

    def __post_init__(self) -> None:
        values = np.asarray(self.values, dtype=float)
        wrong = ~np.isfinite(values)
        if values.ndim != 1 or wrong.any():
            at = f", {values[wrong][0]} at index {np.flatnonzero(wrong)[0]}" if wrong.any() else ""
            raise ValueError(
                f"Values of shape {values.shape}{at}: expected one row of finite heat capacities. "
                "Leave out what has no value."
            )
        for name, given in (("excluded", self.excluded), ("u", self.u)):
            if given is not None and np.shape(given) != values.shape:
                raise ValueError(
                    f"{name} of shape {np.shape(given)}: expected {values.shape}, one a value."
                )


@dataclass(frozen=True)
class Judgement:
    """How a bench stands and stood; arrays of shape (n,) in J/K, one entry a value.

    `lower`, `upper` are the limits the value was held against (NaN where none are known), `n` the
    baseline values behind them, `centre` their mean and `noticeable` the half width without the
    indifference region. `ewma` with its limits is NaN where not yet judged. `states` are the words
    of the bench after each value; an excluded value leaves the state as it was. `beyond` is +1 or
    −1 where a value or the EWMA lies beyond its limits. `in_baseline` marks the values the
    baseline was formed of; `baseline` is None while nothing is known of the scatter. `expected`
    are the limits of the next value.
    """

    values: Array
    excluded: Flags
    states: tuple[str, ...]
    n: Counts
    centre: Array
    lower: Array
    upper: Array
    noticeable: Array
    ewma: Array
    ewma_lower: Array
    ewma_upper: Array
    beyond: Counts
    in_baseline: Flags
    baseline: Baseline | None
    rules: Rules

    @property
    def state(self) -> str:
        """How the bench stands now."""
        return self.states[-1] if self.states else TOO_FEW

    @property
    def expected(self) -> tuple[float, float] | None:
        """Limits [J/K] of the next value; None while nothing is known of the scatter."""
        return self.baseline.limits(self.rules) if self.baseline else None

    @property
    def reasons(self) -> tuple[str, ...]:
        """Why the bench stands as it does: seen, expected, what to do."""
        if not self.states:
            return nothing_yet(self.rules.fewest)
        return self.reasons_at(len(self.states) - 1)

    def reasons_at(self, index: int) -> tuple[str, ...]:
        """The same at the value with this index, by what was known then."""
        return explain(self._moment(index))

    def _moment(self, i: int) -> Moment:
        return Moment(
            value=float(self.values[i]),
            is_excluded=bool(self.excluded[i]),
            n=int(self.n[i]),
            earlier=int(np.count_nonzero(~self.excluded[:i])),
            fewest=self.rules.fewest,
            **{name: float(getattr(self, name)[i]) for name in MOMENT_FIGURES},
            side=int(self.beyond[i]),
            state=self.states[i],
            state_before=self.states[i - 1] if i else TOO_FEW,
            expected=self._expected_after(i),
        )

    def _expected_after(self, i: int) -> tuple[float, float] | None:
        """Limits after value i: those the next value was held against, or those of the next."""
        if i + 1 == len(self.states):
            return self.expected
        lower, upper = float(self.lower[i + 1]), float(self.upper[i + 1])
        return None if np.isnan(lower) else (lower, upper)


MOMENT_FIGURES = (
    "centre", "lower", "upper", "noticeable", "ewma", "ewma_lower", "ewma_upper"
)  # fmt: skip
BASELINE_FIELDS = ("n", "mean", "sd", "degrees")


def judge(phase: Phase, rules: Rules | None = None) -> Judgement:
    """How one bench stands; see `judge_all`."""
    return judge_all([phase], rules)[0]


def judge_all(phases: Sequence[Phase], rules: Rules | None = None) -> list[Judgement]:
    """Judge the phases of many benches in one walk.

    Prediction limit `x̄ ± t_{0.99865,ν}·s·√(1 + 1/n)` and an EWMA about x̄ whose variance carries
    that of x̄, ν the degrees of the pool plus n − 1; or the same with u, and its degrees where
    fewer, if that is wider. Neither speaks within the indifference region. One value or EWMA beyond
    puts a bench on watch; the next on the same side, the check run, out of line; every value within
    takes it one step back. A value enters the EWMA at its limit at most.
    """
    rules = rules or Rules()
    if not phases:
        return []
    track = walk(_as_arrays(phases), rules)
    return [_judgement(phase, track, row, rules) for row, phase in enumerate(phases)]


def _as_arrays(phases: Sequence[Phase]) -> Benches:
    points = max(np.size(phase.values) for phase in phases)
    values, u = np.zeros((2, len(phases), points))
    counted = np.zeros(values.shape, dtype=bool)
    for row, phase in enumerate(phases):
        n = np.size(phase.values)
        values[row, :n] = phase.values
        counted[row, :n] = ~_excluded(phase)
        u[row, :n] = 0.0 if phase.u is None else phase.u
    never = points + 1
    frozen_from = [phase.frozen_from if phase.frozen else never for phase in phases]
    frozen = [phase.frozen or Baseline(1, 0.0, 0.0, 1.0) for phase in phases]
    figures = ([getattr(b, name) for b in frozen] for name in BASELINE_FIELDS)
    return Benches(
        values,
        counted,
        u,
        np.array([phase.u_degrees if phase.u_degrees > 0.0 else inf for phase in phases]),
        np.array([phase.pool.sd for phase in phases]),
        np.array([phase.pool.degrees for phase in phases]),
        np.array(frozen_from, dtype=np.int64),
        *(np.array(figure, dtype=float) for figure in figures),
    )


def _excluded(phase: Phase) -> Flags:
    if phase.excluded is None:
        return np.zeros(np.size(phase.values), dtype=bool)
    return np.asarray(phase.excluded, dtype=bool)


def _judgement(phase: Phase, track: Track, row: int, rules: Rules) -> Judgement:
    values = np.asarray(phase.values, dtype=float)
    at = row, slice(values.size)
    level, n = track.level[at], track.n[at]
    centre = np.where(n > 0, track.mean[at], np.nan)
    half, ewma_half = track.half[at], np.where(level >= 0, track.ewma_half[at], np.nan)
    return Judgement(
        values=values,
        excluded=_excluded(phase),
        states=tuple((*STATES, TOO_FEW)[k] for k in level),
        n=n.astype(np.int64),
        centre=centre,
        lower=centre - half,
        upper=centre + half,
        noticeable=track.noticeable[at],
        ewma=np.where(level >= 0, track.ewma[at], np.nan),
        ewma_lower=centre - ewma_half,
        ewma_upper=centre + ewma_half,
        beyond=track.side[at],
        in_baseline=track.joined[at],
        baseline=_baseline(phase, track, row),
        rules=rules,
    )


def _baseline(phase: Phase, track: Track, row: int) -> Baseline | None:
    """The baseline after the last value; frozen limits come back as they were given."""
    if phase.frozen and phase.frozen_from <= np.size(phase.values):
        return phase.frozen
    n, degrees = int(track.end_n[row]), float(track.end_degrees[row])
    if n == 0 or degrees == 0.0:
        return None
    return Baseline(n, float(track.end_mean[row]), float(track.end_sd[row]), degrees)

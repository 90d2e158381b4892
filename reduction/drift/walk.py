"""The walk along the values of many benches at once: limits, EWMA and state, one value a step.

Every array holds one row a bench; a step is a handful of array operations whatever the number of
benches. Rows shorter than the longest are filled with values that do not count.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reduction.drift.baselines import Benches, GrowingBaselines
from reduction.drift.scheme import Rules

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Counts = NDArray[np.int64]


@dataclass(frozen=True)
class Track:
    """What was found at every value, arrays of shape (benches, points) in J/K.

    `n`, `mean`, `half` and `noticeable` describe the limits the value was held against, before it
    could join the baseline; `noticeable` is the half width without the indifference region. `side`
    is +1, −1 or 0 for a value or EWMA beyond its limits, `level` 0 steady, 1 watch, 2 out of line,
    −1 too few points. The last four describe the baseline at the end, shape (benches,).
    """

    n: Array
    mean: Array
    half: Array
    noticeable: Array
    ewma: Array
    ewma_half: Array
    side: Counts
    level: Counts
    joined: Flags
    end_n: Array
    end_mean: Array
    end_sd: Array
    end_degrees: Array


def walk(benches: Benches, rules: Rules) -> Track:
    """Judge every value in order; the whole of `Track` for the whole of `Benches`."""
    walker = _Walker(benches, rules)
    for i in range(benches.values.shape[1]):
        walker.step(i)
    return walker.track()


@dataclass
class _Ewma:
    """Weighted sums since judging began: of values, weights, their squares, and shared weight.

    With weights w_j and a baseline of n values the EWMA lies `Σw_j(x_j − x̄)` from the mean x̄,
    with variance `σ²(Σw² − 2·W·S/n + W²/n)`, W the sum of the weights and S that of the values
    which have since joined the baseline. `extra` is what values less certain than σ add.
    """

    size: int
    weight: float

    def __post_init__(self) -> None:
        self.weights, self.squares, self.shared = np.zeros((3, self.size))
        self.deviation, self.extra = np.zeros((2, self.size))

    def restart(self, now: Flags) -> None:
        for name in ("weights", "squares", "shared", "deviation", "extra"):
            setattr(self, name, np.where(now, 0.0, getattr(self, name)))

    def add(self, deviation: Array, extra_variance: Array, taken: Flags) -> None:
        """One more value, as its deviation from the mean [J/K], where it is taken."""
        new, kept = np.where(taken, self.weight, 0.0), np.where(taken, 1.0 - self.weight, 1.0)
        self.deviation = kept * self.deviation + np.where(taken, new * deviation, 0.0)
        self.weights = kept * self.weights + new
        self.squares = kept**2 * self.squares + new**2
        self.extra = kept**2 * self.extra + new**2 * extra_variance
        self.shared = kept * self.shared

    def share(self, joined: Flags, shift_of_mean: Array) -> None:
        """The newest value has joined the baseline, whose mean has moved by `shift_of_mean`."""
        self.shared = self.shared + np.where(joined, self.weight, 0.0)
        self.deviation = self.deviation - self.weights * shift_of_mean

    def sd(self, sd: Array, n: Array) -> Array:
        overlap = self.weights * (self.weights - 2.0 * self.shared) / np.maximum(n, 1.0)
        return np.sqrt(np.maximum(sd**2 * (self.squares + overlap) + self.extra, 0.0))


class _Walker:
    def __init__(self, benches: Benches, rules: Rules) -> None:
        size, points = benches.values.shape
        self.benches, self.rules = benches, rules
        self.baseline, self.ewma = GrowingBaselines(benches, rules), _Ewma(size, rules.weight)
        self.level, self.direction = np.zeros((2, size), dtype=np.int64)
        self.found = {
            name: np.empty((points, size))
            for name in ("n", "mean", "half", "noticeable", "ewma", "ewma_half")
        }
        self.side, self.levels = np.zeros((2, points, size), dtype=np.int64)
        self.joins = np.zeros((points, size), dtype=bool)

    def step(self, i: int) -> None:
        """Hold value i against the limits, weigh it in, decide the state, let it join or not."""
        now = self.benches.frozen_from == i
        self.baseline.freeze(now)
        self.ewma.restart(now)
        judged = self.benches.counted[:, i] & self.baseline.is_enough()
        side = self._hold_against_limits(i, judged)
        self._decide(side, judged)
        self.side[i] = side
        self.levels[i] = np.where(self.baseline.is_enough(), self.level, -1)
        self._let_join(i, judged)

    def _hold_against_limits(self, i: int, judged: Flags) -> Counts:
        x, u = self.benches.values[:, i], self.benches.u[:, i]
        baseline, ewma = self.baseline, self.ewma
        mean, n, spread = baseline.mean.copy(), baseline.n, baseline.spread()
        own = baseline.of_runs(u, spread)
        unit = np.maximum(spread.point_t * spread.sd, own.point_t * own.sd)
        known = np.where(n > 0.0, unit, np.nan)
        noticeable = known * np.sqrt(1.0 + 1.0 / np.maximum(n, 1.0))
        indifferent = self.rules.indifference * np.abs(mean)
        half = np.maximum(noticeable, indifferent)
        # A value beyond the limits enters at the limit, or one wild value would confirm itself.
        within = np.clip(x - mean, -half, half)
        ewma.add(within, np.maximum(u**2 - spread.sd**2, 0.0), judged)
        ewma_half = np.maximum(spread.ewma_t * ewma.sd(spread.sd, n), indifferent)
        found = (n, mean, half, noticeable, mean + ewma.deviation, ewma_half)
        for name, value in zip(self.found, found, strict=True):
            self.found[name][i] = value
        side = np.sign(x - mean) * (np.abs(x - mean) > half)
        slow = np.sign(ewma.deviation) * (np.abs(ewma.deviation) > ewma_half)
        return np.where(judged, np.where(side == 0.0, slow, side), 0.0).astype(np.int64)

    def _decide(self, side: Counts, judged: Flags) -> None:
        """Two steps up, on the same side; one step down for every value within the limits."""
        confirmed = (self.level > 0) & (side == self.direction)
        up = np.where(confirmed, 2, 1)
        down = np.maximum(self.level - 1, 0)
        self.level = np.where(judged, np.where(side != 0, up, down), self.level)
        self.direction = np.where(side != 0, side, self.direction)

    def _let_join(self, i: int, judged: Flags) -> None:
        """A growing baseline takes the first values, then those that leave the bench steady."""
        baseline = self.baseline
        room = (baseline.n < self.rules.baseline_points) & ~baseline.is_frozen
        joins = self.benches.counted[:, i] & room & (~judged | (self.level == 0))
        before = baseline.mean
        baseline.grow(self.benches.values[:, i], self.benches.u[:, i], joins)
        self.ewma.share(joins & judged, baseline.mean - before)
        self.joins[i] = joins

    def track(self) -> Track:
        found = {name: values.T for name, values in self.found.items()}
        baseline, spread = self.baseline, self.baseline.spread()
        return Track(
            **found,
            side=self.side.T,
            level=self.levels.T,
            joined=self.joins.T,
            end_n=baseline.n,
            end_mean=baseline.mean,
            end_sd=spread.sd,
            end_degrees=spread.degrees,
        )

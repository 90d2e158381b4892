"""The baselines of many benches as they grow, and the scatter that values are held by.

Two things are known of a bench's scatter: how its values differ from one standardization to the
next, pooled over the benches, and how its runs differ within one, which no mean of few runs can
undercut. The wider limit holds.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from reduction.drift.pooling import combined_variance
from reduction.drift.scheme import Rules, ewma_quantile, point_quantile

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Counts = NDArray[np.int64]


@dataclass(frozen=True)
class Benches:
    """What is walked along: values [J/K] of shape (benches, points) and what is known beforehand.

    `counted` leaves out excluded values, `u` [J/K] is each value's own standard uncertainty (0
    where unknown), found with `u_degrees` of freedom. From step `frozen_from` on a bench is held
    against its frozen baseline; a bench without one has it beyond the last step.
    """

    values: Array
    counted: Flags
    u: Array
    u_degrees: Array
    pool_sd: Array
    pool_degrees: Array
    frozen_from: Counts
    frozen_n: Array
    frozen_mean: Array
    frozen_sd: Array
    frozen_degrees: Array


@dataclass(frozen=True)
class Spread:
    """A scatter [J/K], its degrees of freedom, and Student's t of both limits; one a bench."""

    sd: Array
    degrees: Array
    point_t: Array
    ewma_t: Array

    def unless(self, now: Flags, other: "Spread") -> "Spread":
        """The other one where the flag stands, else this one."""
        return Spread(
            np.where(now, other.sd, self.sd),
            np.where(now, other.degrees, self.degrees),
            np.where(now, other.point_t, self.point_t),
            np.where(now, other.ewma_t, self.ewma_t),
        )


@dataclass
class GrowingBaselines:
    """Count, mean and sum of squares about it, one entry a bench.

    `u_squares` is the sum of the squared own uncertainties of the values taken in.
    """

    benches: Benches
    rules: Rules
    n: Array = field(init=False)
    mean: Array = field(init=False)
    squares: Array = field(init=False)
    u_squares: Array = field(init=False)
    is_frozen: Flags = field(init=False)

    def __post_init__(self) -> None:
        size = self.benches.values.shape[0]
        self.n, self.mean, self.squares, self.u_squares = np.zeros((4, size))
        self.is_frozen = np.zeros(size, dtype=bool)
        own = np.arange(self.rules.baseline_points + 1.0)
        kinds, self._kind = np.unique(self.benches.pool_degrees, return_inverse=True)
        degrees = kinds[:, None] + np.maximum(own - 1.0, 0.0)
        self._growing = self._quantiles(np.where(degrees > 0.0, degrees, np.nan))
        self._of_runs = self._quantiles(self.benches.u_degrees)
        frozen = self.benches.frozen_degrees
        self._frozen = Spread(self.benches.frozen_sd, frozen, *self._quantiles(frozen))

    def _quantiles(self, degrees: Array) -> tuple[Array, Array]:
        return point_quantile(degrees, self.rules), ewma_quantile(degrees, self.rules)

    def freeze(self, now: Flags) -> None:
        """Put the frozen baseline in place of the grown one."""
        self.is_frozen |= now
        self.n = np.where(now, self.benches.frozen_n, self.n)
        self.mean = np.where(now, self.benches.frozen_mean, self.mean)

    def spread(self) -> Spread:
        """The scatter in use: frozen, else whichever of the two known makes the wider limit."""
        pooled = self._pooled()
        own = self.of_runs(np.sqrt(self.u_squares / np.maximum(self.n, 1.0)), pooled)
        wider = own.point_t * own.sd > pooled.point_t * pooled.sd
        return pooled.unless(wider, own).unless(self.is_frozen, self._frozen)

    def of_runs(self, u: Array, beside: Spread) -> Spread:
        """What uncertainties [J/K] found from the benches' own runs ask for, beside another spread.

        They are the least that values can scatter by, so they are believed with the fewer degrees
        of the two.
        """
        point, ewma = self._of_runs
        return Spread(
            u,
            np.minimum(self.benches.u_degrees, beside.degrees),
            np.maximum(point, beside.point_t),
            np.maximum(ewma, beside.ewma_t),
        )

    def _pooled(self) -> Spread:
        """From value to value: pooled with the own scatter, not below the floor."""
        pool_sd, pool_degrees = self.benches.pool_sd, self.benches.pool_degrees
        n = np.maximum(self.n, 1.0)
        sd = np.sqrt(combined_variance(pool_sd, pool_degrees, n, self.squares))
        sd = np.maximum(sd, self.rules.floor * np.abs(self.mean))
        counts = np.minimum(self.n, self.rules.baseline_points).astype(int)
        point, ewma = (table[self._kind, counts] for table in self._growing)
        return Spread(sd, pool_degrees + n - 1.0, point, ewma)

    def is_enough(self) -> Flags:
        return np.asarray((self.n >= self.rules.fewest) | self.is_frozen)

    def grow(self, x: Array, u: Array, joins: Flags) -> None:
        """Take in the values that join, by updating mean and sums of squares."""
        n = self.n + joins
        deviation = np.where(joins, x - self.mean, 0.0)
        mean = self.mean + deviation / np.maximum(n, 1.0)
        self.squares = self.squares + deviation * np.where(joins, x - mean, 0.0)
        self.u_squares = self.u_squares + np.where(joins, u**2, 0.0)
        self.n, self.mean = n, mean

"""What the finders look at: the readings without slips, the periods, the kink and the limits."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reduction.curve import CurveResult
from reduction.notes import Thresholds
from reduction.periods import Kink
from reduction.thermogram import Periods, Thermogram

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Evidence:
    """One run as the finders see it; slips are left out, so that each trouble is named once."""

    thermogram: Thermogram
    periods: Periods
    curve: CurveResult
    kink: Kink | None
    limits: Thresholds

    @property
    def foot_s(self) -> float:
        """The end of what is surely fore period [s]: mark or kink, whichever is earlier."""
        fired = self.periods.fired_at_s
        return fired if self.kink is None else min(fired, self.kink.last_still_s)

    @property
    def rise_k(self) -> float:
        """About the rise [K]: between the two lines at firing, NaN without an after line."""
        rated = self.curve.rated
        return np.nan if rated is None else float(rated.after.at(0.0) - rated.fore.at(0.0))

    def is_sure(self, share: float) -> bool:
        """Whether a share of the rise stands out of scatter, rounding and the after line's sway.

        The line is sure to `σ·√(1/n + (t − t̄)²/Σ(t − t̄)²)`, here at firing.
        """
        rated, scatter = self.curve.rated, self.thermogram.scatter_k
        if rated is None:
            return False
        after = rated.after
        sway = scatter * np.sqrt(1.0 / after.count + after.mean_s**2 / after.spread_s2)
        unsure = max(3.0 * float(sway), 4.0 * scatter, 2.5 * self.thermogram.resolution_k)
        return bool(share * self.rise_k > unsure)

    @property
    def fore(self) -> NDArray[np.bool_]:
        """The readings of the fore period."""
        time = self.thermogram.time_s
        return np.asarray((time >= self.periods.fore_from_s) & (time <= self.periods.fired_at_s))

    @property
    def after(self) -> NDArray[np.bool_]:
        """The readings of the after period; none where there is no after period."""
        time, settled = self.thermogram.time_s, self.periods.settled_at_s
        begin = np.inf if settled is None else settled
        return np.asarray((time >= begin) & (time <= self.periods.after_until_s))


def off_neighbours(time_s: Array, temperature_c: Array) -> Array:
    """How far [K] each inner reading lies off the chord of its neighbours, per unit scatter.

    Divided by the chord's own spread, so that independent readings give their standard deviation;
    shape (n,) in, (n − 2,) out.
    """
    span = time_s[2:] - time_s[:-2]
    step = time_s[1:-1] - time_s[:-2]
    weight = np.divide(step, span, out=np.full(span.shape, 0.5), where=span > 0)
    chord = (1.0 - weight) * temperature_c[:-2] + weight * temperature_c[2:]
    spread = np.sqrt(1.0 + weight**2 + (1.0 - weight) ** 2)
    return np.asarray((temperature_c[1:-1] - chord) / spread)

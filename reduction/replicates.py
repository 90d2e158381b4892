"""Replicates: mean, spread, interval, and what outlier tests can say (information, no button)."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from math import sqrt

import numpy as np
from scipy.optimize import brentq
from scipy.special import chdtri, ndtr, ndtri, stdtrit

from reduction.notes import BLOCK, WARN, Note, Thresholds

DIXON_Q: dict[int, tuple[float, float, float]] = {
    3: (0.941, 0.970, 0.994),
    4: (0.765, 0.829, 0.926),
    5: (0.642, 0.710, 0.821),
    6: (0.560, 0.625, 0.740),
    7: (0.507, 0.568, 0.680),
    8: (0.468, 0.526, 0.634),
    9: (0.437, 0.493, 0.598),
    10: (0.412, 0.466, 0.568),
}
"""Critical Q10 at 90, 95 and 99 %, two-sided: Rorabacher, Anal. Chem. 63 (1991) 139."""

COUNTS = {2: "Two", 3: "Three", 4: "Four", 5: "Five"}
NEXT = {2: "a third", 3: "a fourth", 4: "a fifth", 5: "a sixth"}


ONE_RUN_ONLY = Note(
    "one_run_only",
    BLOCK,
    "One run gives no spread.",
    "Make another run; until then there is no interval.",
)


@dataclass(frozen=True)
class Summary:
    """n, mean, s and the 95 % interval of the mean; what one value cannot give is None."""

    n: int
    mean: float
    s: float | None
    half_width: float | None
    lower: float | None
    upper: float | None
    why: str | None = None


@dataclass(frozen=True)
class OutlierTest:
    """A statistic beside its critical value; `index` is the value that stands out most."""

    statistic: float
    critical: float
    index: int

    @property
    def stands_out(self) -> bool:
        """Whether the statistic is above its critical value."""
        return self.statistic > self.critical


def student_t(degrees: float, level: float = 0.95) -> float:
    """Two-sided quantile of Student's t; of the normal distribution for infinite degrees."""
    part = 0.5 + level / 2.0
    return float(stdtrit(degrees, part) if np.isfinite(degrees) else ndtri(part))


def chi_square(degrees: float, part: float) -> float:
    """The value that χ² stays below with a probability `part`."""
    return float(chdtri(degrees, 1.0 - part))


def summarize(values: Sequence[float]) -> Summary:
    """`x̄ ± t·s/√n` at 95 %. Raises ValueError without values."""
    if not len(values):
        raise ValueError("No values: a mean needs at least one run.")
    numbers = np.asarray(values, dtype=float)
    n, mean = numbers.size, float(numbers.mean())
    if n == 1:
        return Summary(1, mean, None, None, None, None, "One run gives no spread.")
    s = float(numbers.std(ddof=1))
    half = student_t(n - 1) * s / sqrt(n)
    return Summary(n, mean, s, half, mean - half, mean + half)


def grubbs(values: Sequence[float], alpha: float = 0.05, two_sided: bool = True) -> OutlierTest:
    """`G = max|x − x̄|/s` against `(n − 1)/√n·√(t²/(n − 2 + t²))`, t at α/n (two-sided α/2n).

    Needs three values that differ. At n = 3 the largest possible G hardly passes the critical
    value: it cannot tell. Source: NIST/SEMATECH e-Handbook 1.3.5.17.1.
    """
    numbers = _differing(values, 3, None)
    n = numbers.size
    distance = np.abs(numbers - numbers.mean())
    index = int(distance.argmax())
    t = float(stdtrit(n - 2, 1.0 - alpha / (2 * n if two_sided else n)))
    critical = (n - 1) / sqrt(n) * sqrt(t**2 / (n - 2 + t**2))
    return OutlierTest(float(distance[index] / numbers.std(ddof=1)), critical, index)


def dixon_q(values: Sequence[float], level: int = 95) -> OutlierTest:
    """`Q = gap/range` of the value farthest from its neighbour; 3 to 10 values, 90, 95 or 99 %."""
    numbers = _differing(values, 3, 10)
    order = np.argsort(numbers, kind="stable")
    low, high = numbers[order[:2]], numbers[order[-2:]]
    gaps = float(low[1] - low[0]), float(high[1] - high[0])
    index = int(order[0] if gaps[0] > gaps[1] else order[-1])
    critical = DIXON_Q[numbers.size][(90, 95, 99).index(level)]
    return OutlierTest(max(gaps) / float(np.ptp(numbers)), critical, index)


def critical_range(n: int, repeatability_sd: float) -> float:
    """The range n replicates (2 or more) stay within 95 times in 100: `f(n)·s_r`.

    The idea of ISO 5725-6, from memory.
    """
    if n < 2:
        raise ValueError(f"{n} values: a range needs 2 replicates or more.")
    return range_factor(n) * repeatability_sd


@cache
def range_factor(n: int, level: float = 0.95) -> float:
    """The quantile f of the range of n normal values with s = 1, n from 2 on.

    `P(range ≤ f) = n·∫φ(z)·[Φ(z + f) − Φ(z)]^(n−1) dz`, by trapezoids over ±8.
    """
    z = np.linspace(-8.0, 8.0, 1601)
    density = np.exp(-(z**2) / 2.0) / sqrt(2.0 * np.pi)

    def short_of(f: float) -> float:
        inside = n * density * (ndtr(z + f) - ndtr(z)) ** (n - 1)
        return float(np.trapezoid(inside, z)) - level

    return float(brentq(short_of, 0.01, 12.0))


def replicate_notes(
    values: Sequence[float],
    thresholds: Thresholds | None = None,
    repeatability_sd: float | None = None,
) -> list[Note]:
    """What a set of replicates (any unit, at least one) gives reason to say.

    The limit is the critical range of `repeatability_sd`, or of the course's share of the mean.
    """
    limits, summary = thresholds or Thresholds(), summarize(values)
    if summary.n == 1:
        return [ONE_RUN_ONLY]
    mean = abs(summary.mean)
    sd = repeatability_sd or limits.repeatability_percent / 100.0 * mean
    limit, span = critical_range(summary.n, sd), max(values) - min(values)
    if span <= limit:
        return []
    count = COUNTS.get(summary.n, str(summary.n))
    sentence = f"{count} values span {100 * span / mean:.2g} % (limit {100 * limit / mean:.2g} %)."
    advice = f"Run {NEXT.get(summary.n, 'another')}; do not drop one without a cause."
    return [Note("replicates_disagree", WARN, sentence, advice)]


def _differing(
    values: Sequence[float], least: int, most: int | None
) -> "np.ndarray[tuple[int], np.dtype[np.float64]]":
    numbers = np.asarray(values, dtype=float)
    if numbers.size < least or (most and numbers.size > most) or np.ptp(numbers) == 0.0:
        wanted = f"{least} to {most}" if most else f"{least} or more"
        raise ValueError(f"{numbers.size} values: the test needs {wanted}, not all equal.")
    return numbers

"""Did all benches move together over the same time, or one of them?

All together points at what they share: the lot of the standard, the titrant, the fuse. One alone
points at that bench. Changes are compared as fractions of each bench's own level.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf, log, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reduction.drift.pooling import Scatter
from reduction.drift.words import percentage, signed_percentage

Array = NDArray[np.float64]

DECISIVE = 2.0
"""Two explanations whose cost differs by less cannot be told apart (common practice, no source)."""

COVERAGE = 1.96
"""Half width of a 95 % interval in standard uncertainties, normal."""

NOT_CHANCE = 3.0
"""A change of so many standard uncertainties is not left to chance (common practice, no source)."""


SHARED = "Look at what they share: the lot of the standard, the titrant, the fuse."
EACH = "Look at each of them first, then at what they share: lot of the standard, titrant, fuse."


@dataclass(frozen=True)
class Change:
    """Change of a bench's level as a fraction of it, with its standard uncertainty."""

    fraction: float
    u: float


@dataclass(frozen=True)
class CommonCause:
    """Who moved: `kind` is "all", "one", "several", "none" or "cannot tell".

    `moved` names the benches, `size` is the change of the one or of all as a fraction and `lower`,
    `upper` its 95 % interval, else None. `left_out` had no values on one side of the time.
    """

    kind: str
    moved: tuple[str, ...]
    size: float | None
    lower: float | None
    upper: float | None
    left_out: tuple[str, ...]
    reason: str


def change_across(
    values: ArrayLike,
    days: ArrayLike,
    earliest: float,
    latest: float,
    scatter: Scatter,
    excluded: ArrayLike | None = None,
    reach_days: float = inf,
) -> Change | None:
    """Mean from `latest` on less mean up to `earliest`, over the mean before; None without both.

    Values [J/K] and days of shape (n,); those in between belong to neither side, those more than
    `reach_days` away to neither level. `u² = s²(1/n₁ + 1/n₂)`, the values scattering as given.
    Raises ValueError when the two days are out of order or the scatter is not above zero.
    """
    _require_order(earliest, latest, scatter)
    x, when = np.asarray(values, dtype=float), np.asarray(days, dtype=float)
    kept = np.ones(x.size, bool) if excluded is None else ~np.asarray(excluded, dtype=bool)
    at_break = latest == earliest
    before = x[kept & (when <= earliest) & (when >= earliest - reach_days)]
    later = when > latest if at_break else when >= latest
    after = x[kept & later & (when <= latest + reach_days)]
    if not (before.size and after.size):
        return None
    level = float(before.mean())
    u = scatter.sd * sqrt(1.0 / before.size + 1.0 / after.size)
    return Change((float(after.mean()) - level) / level, u / level)


def change_along(
    values: ArrayLike,
    days: ArrayLike,
    earliest: float,
    latest: float,
    scatter: Scatter,
    excluded: ArrayLike | None = None,
    levels: ArrayLike | None = None,
) -> Change | None:
    """Least-squares slope from `earliest` to `latest` times that span, over the mean.

    Values [J/K] and days of shape (n,); `levels` numbers those that share a level (all, where left
    out), each with a height of its own: `b = Σt·x/Σt²` about the means of their level, `u = s/√Σt²`
    a day. None where no level has values over a third of the span: they say little of a drift.
    Raises ValueError when the two days are out of order or the scatter is not above zero.
    """
    _require_order(earliest, latest, scatter)
    x, when = np.asarray(values, dtype=float), np.asarray(days, dtype=float)
    kept = (when >= earliest) & (when <= latest)
    if excluded is not None:
        kept &= ~np.asarray(excluded, dtype=bool)
    of_level = np.zeros(x.size) if levels is None else np.asarray(levels)
    groups = [kept & (of_level == level) for level in np.unique(of_level[kept])]
    reach = max((float(np.ptp(when[group])) for group in groups), default=0.0)
    if reach == 0.0 or reach < (latest - earliest) / 3.0:
        return None
    t = np.concatenate([when[group] - when[group].mean() for group in groups])
    about = np.concatenate([x[group] - x[group].mean() for group in groups])
    spread, to_fraction = float(t @ t), (latest - earliest) / float(x[kept].mean())
    return Change(float(t @ about) / spread * to_fraction, scatter.sd / sqrt(spread) * to_fraction)


def _require_order(earliest: float, latest: float, scatter: Scatter) -> None:
    if latest < earliest or scatter.sd <= 0.0:
        raise ValueError(
            f"From day {earliest:g} to day {latest:g} with scatter {scatter.sd:g}: expected two "
            "days in order and a scatter above zero. Take both from the break."
        )


def common_cause(changes: Mapping[str, Change | None]) -> CommonCause:
    """Weigh four accounts of the benches' changes over one time: none, all, one, several moved.

    With r the change and u its uncertainty the cost is `Σ(r/u)²` for none, `Σ((r − r̄)/u)² + ln K`
    for all by one amount, and `Σ(r/u)²` of the others `+ 3 ln K` for one of K benches, looked for;
    the least wins, and who moved stays open where another comes within 2 of it. Where no account
    explains the changes (a bench still more than three uncertainties from it), several moved, each
    by its own amount. One bench alone cannot tell.
    """
    known = {name: change for name, change in changes.items() if change is not None}
    left_out = tuple(name for name in changes if name not in known)
    if len(known) < 2:
        reason = "Fewer than two benches have values before and after: nothing to compare."
        return CommonCause("cannot tell", (), None, None, None, left_out, reason)
    r = np.array([change.fraction for change in known.values()])
    u = np.array([change.u for change in known.values()])
    kind, moved = _account(r, u)
    names = tuple(name for name, is_moved in zip(known, moved, strict=True) if is_moved)
    if kind not in ("all", "one"):
        reason = _several_or_none(kind, {name: known[name].fraction for name in names}, u)
        return CommonCause(kind, names, None, None, None, left_out, reason)
    size, half = _mean_of(r[moved], u[moved])
    reason = f"All {r.size} benches moved together, by {_with_interval(size, half)}. {SHARED}"
    if kind == "one":
        others = _with_interval(*_mean_of(r[~moved], u[~moved]))
        reason = (
            f"Only {names[0]} moved, by {_with_interval(size, half)}; the other {r.size - 1} by "
            f"{others}. Look at that bench."
        )
    return CommonCause(kind, names, size, size - half, size + half, left_out, reason)


def _account(r: Array, u: Array) -> tuple[str, NDArray[np.bool_]]:
    """The kind of the cheapest account, and which benches moved by it."""
    count, alone = r.size, np.square(r / u)
    together, _ = _mean_of(r, u)
    one = int(alone.argmax())
    misfits = {
        "none": alone,
        "all": np.square((r - together) / u),
        "one": np.where(np.arange(count) == one, 0.0, alone),
    }
    charges = {"none": 0.0, "all": log(count), "one": 3.0 * log(count)}
    costs = {kind: float(misfits[kind].sum()) + charges[kind] for kind in misfits}
    best, second = sorted(costs, key=lambda kind: costs[kind])[:2]
    if misfits[best].max() > NOT_CHANCE**2:
        return "several", alone > NOT_CHANCE**2
    if best != "none" and costs[second] - costs[best] < DECISIVE:
        return "cannot tell", np.zeros(count, dtype=bool)
    moved = {"none": False, "all": True, "one": np.arange(count) == one}[best]
    return best, np.broadcast_to(moved, count)


def _mean_of(r: Array, u: Array) -> tuple[float, float]:
    """Mean weighted by 1/u², and the half width of its 95 % interval."""
    if not r.size:
        return 0.0, 0.0
    weights = 1.0 / np.square(u)
    return float(weights @ r / weights.sum()), COVERAGE / sqrt(float(weights.sum()))


def _several_or_none(kind: str, moved: Mapping[str, float], u: Array) -> str:
    if kind == "none":
        unseen = percentage(100.0 * NOT_CHANCE * float(u.max()))
        return (
            f"None of the {u.size} benches moved beyond its scatter. A change of one bench below "
            f"{unseen} would not be seen with so few values."
        )
    if kind == "cannot tell":
        return (
            "The values after are too few to tell whether one bench moved or all of them. Wait for "
            "the next standardizations, or make a check run on another bench."
        )
    listed = ", ".join(f"{name} by {signed_percentage(100.0 * r)}" for name, r in moved.items())
    return f"{len(moved)} of {u.size} benches moved, not all alike: {listed}. {EACH}"


def _with_interval(fraction: float, half: float) -> str:
    lower, upper = (signed_percentage(100.0 * (fraction + side * half)) for side in (-1, 1))
    return f"{signed_percentage(100.0 * fraction)} (95 % interval {lower} to {upper})"

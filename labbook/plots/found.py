"""What a reduction found in a curve, as the thermogram draws it: bounds, lines, crossing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Reduced = Mapping[str, Any]
WITH_CROSSING = ("equal_areas", "fraction", "fraction_060", "fraction_by_hand")


@dataclass(frozen=True)
class DriftLine:
    """L(t) = T_m + g (t - t_m): the line's own mean time [s], its value there [°C], slope [K/s]."""

    mean_s: float
    mean_c: float
    slope_k_per_s: float

    def at(self, t: ArrayLike) -> Array:
        since = np.asarray(t, dtype=float) - self.mean_s
        return np.asarray(self.mean_c + self.slope_k_per_s * since)


@dataclass(frozen=True)
class Crossing:
    method: str
    at_s: float
    rise_k: float


@dataclass(frozen=True)
class Found:
    """Times in s. None for what the reduction could not find."""

    start: float
    end: float
    fired: float | None
    settled: float | None
    lines: Mapping[str, DriftLine]  # "fore", "after"
    crossing: Crossing | None

    @property
    def spans(self) -> list[tuple[str, float, float]]:
        """The periods there are, each with its first and last moment."""
        if self.fired is None:
            return []
        fore = ("fore", self.start, self.fired)
        if self.settled is None:
            return [fore, ("main", self.fired, self.end)]
        return [fore, ("main", self.fired, self.settled), ("after", self.settled, self.end)]

    @property
    def bracket(self) -> tuple[float, float] | None:
        """Where the crossing meets the fore and the after line [°C]."""
        if self.crossing is None or set(self.lines) != {"fore", "after"}:
            return None
        at = self.crossing.at_s
        return float(self.lines["fore"].at(at)), float(self.lines["after"].at(at))


def found_in(reduction: Reduced | None, t: Array) -> Found:
    """Read a reduction's dict; with none, only the extent of the readings is known."""
    reduction = reduction or {}
    periods, drift = reduction.get("periods") or {}, reduction.get("drift") or {}
    start, end = periods.get("fore_from_s"), periods.get("after_until_s")
    return Found(
        start=float(t.min()) if start is None else start,
        end=float(t.max()) if end is None else end,
        fired=periods.get("fired_at_s"),
        settled=periods.get("settled_at_s"),
        lines={
            role: line for role in ("fore", "after") if (line := _line(drift.get(role))) is not None
        },
        crossing=_crossing(reduction),
    )


def _line(fitted: Reduced | None) -> DriftLine | None:
    """None where too few readings were left for a slope."""
    if not fitted or fitted["slope_k_per_s"] is None:
        return None
    return DriftLine(fitted["at_s"], fitted["at_c"], fitted["slope_k_per_s"])


def _crossing(reduction: Reduced) -> Crossing | None:
    """That of the method used, else of the first method that has one."""
    rises = reduction.get("rise") or {}
    used = (reduction.get("rise_used") or {}).get("method", "")
    for method in (used, *WITH_CROSSING):
        rise = rises.get(method) or {}
        if rise.get("at_s") is not None and rise.get("rise_k") is not None:
            return Crossing(method, rise["at_s"], rise["rise_k"])
    return None

"""The textbook charts of one phase: limits from its first values, every value held against them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labbook.plots import theme
from labbook.plots.dates import Moment, Window, dates, margins, values
from reduction.drift import charts

HEIGHT = 240
# Allowance and decision interval of the CUSUM in sigma (common practice, no source).
ALLOWANCE, INTERVAL = 0.5, 5.0


@dataclass(frozen=True)
class Series:
    """Values [J/K] of one phase with their moments; limits come from the first ``n``."""

    at: Sequence[Moment]
    j_per_k: NDArray[np.float64]
    n: int

    @property
    def limits(self) -> charts.Individuals:
        return charts.individuals(self.j_per_k[: self.n])


def individuals(series: Series, window: Window | None) -> theme.Figure:
    found = series.limits
    lines = [found.lower, found.mean, found.upper]
    return _chart(series.at, [series.j_per_k], lines, "C (J/K)", window)


def moving_range(series: Series, window: Window | None) -> theme.Figure:
    found, ranges = series.limits, np.abs(np.diff(series.j_per_k))
    lines = [found.mean_range, found.range_upper]
    return _chart(series.at[1:], [ranges], lines, "range (J/K)", window)


def ewma(series: Series, window: Window | None) -> theme.Figure:
    """Limits are the asymptotic ones, as printed in textbooks."""
    found = series.limits
    later = series.j_per_k[series.n :]
    chart = charts.ewma(later, found.mean, found.sigma)
    half = 3.0 * found.sigma * np.sqrt(0.3 / (2.0 - 0.3))
    lines = [found.mean - half, found.mean, found.mean + half]
    return _chart(series.at[series.n :], [chart.values], lines, "EWMA (J/K)", window)


def cusum(series: Series, window: Window | None) -> theme.Figure:
    """The sum above the line upwards, the sum below it downwards."""
    found = series.limits
    later = series.j_per_k[series.n :]
    chart = charts.cusum(later, found.mean, ALLOWANCE * found.sigma, INTERVAL * found.sigma)
    h = float(chart.h[..., 0])
    sums = [chart.above, -chart.below]
    return _chart(series.at[series.n :], sums, [-h, 0.0, h], "sum (J/K)", window)


Chart = Callable[[Series, Window | None], theme.Figure]
CHARTS: dict[str, list[tuple[str, str, Chart]]] = {
    "individuals": [
        ("individuals", "Individuals: values with x̄ ± 3 mean moving ranges / 1.128", individuals),
        ("moving-range", "Moving range: each value less the one before", moving_range),
    ],
    "ewma": [("ewma", "EWMA, λ = 0.3, with limits at 3 sigma", ewma)],
    "cusum": [("cusum", "CUSUM, k = 0.5 and h = 5 sigma", cusum)],
}
"""By switch the charts it shows: identifier, words, how it is drawn."""


def _chart(
    at: Sequence[Moment],
    rows: Sequence[NDArray[np.float64]],
    lines: Sequence[float | NDArray[np.float64]],
    title: str,
    window: Window | None,
) -> theme.Figure:
    reach = _reach([*rows, np.array(lines, dtype=float)])
    return theme.figure(
        [_row(at, row, symbol) for row, symbol in zip(rows, ("circle", "square"), strict=False)],
        {
            "xaxis": dates(at, window),
            "yaxis": values(
                title,
                nticks=5,
                tickformat=",.0f",
                range=reach,
            ),
            "shapes": [_level(float(level)) for level in lines],
            "margin": margins(),
            "height": HEIGHT,
        },
    )


def _reach(rows: Sequence[NDArray[np.float64]]) -> list[float]:
    """Values and limits with a little room: limits are drawn as shapes, which stretch no axis."""
    everything = np.concatenate(rows)
    room = 0.08 * (np.ptp(everything) or 1.0)
    return [float(everything.min() - room), float(everything.max() + room)]


def _row(at: Sequence[Moment], row: NDArray[np.float64], symbol: str) -> theme.Properties:
    return theme.scatter(
        at,
        row,
        "approved",
        words=[
            f"{moment:%-d %b %Y}: {theme.shown(v, 1)} J/K"
            for moment, v in zip(at, row, strict=True)
        ],
        walk=True,
        mode="lines+markers",
        line={"width": 1},
        marker={"symbol": symbol, "size": 7},
    )


def _level(level: float) -> theme.Properties:
    return {
        "type": "line", "name": "band-mean", "x0": 0, "x1": 1, "xref": "paper",
        "y0": level, "y1": level, "yref": "y", "layer": "below",
        "line": {"width": 1.5, "dash": "dash"},
    }  # fmt: skip

"""A bench's heat capacity over the terms."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import TypedDict

import numpy as np

from labbook.plots import theme
from labbook.plots.dates import Window, dates, margins, values


class Point(TypedDict):
    """One standardization. The interval is the 95 % one, None where there is no spread."""

    at: datetime | date
    j_per_k: float
    low: float | None
    high: float | None
    state: str  # a key of MARKS
    words: str  # what a reader should see on pointing at it


class BandStep(TypedDict):
    """From `at` on: mean of the earlier values and the band around it; None where it breaks off."""

    at: datetime | date
    mean: float | None
    low: float | None
    high: float | None


class Change(TypedDict):
    """A moment with its words: what cuts the history, or what was logged."""

    at: datetime | date
    words: str


# state -> role, symbol, size; hollow for what is out of the means, never hidden
MARKS = {
    "approved": ("approved", "circle", 9),
    "in force": ("in-force", "diamond", 15),
    "put forward": ("approved", "circle-open", 10),
    "withdrawn": ("left-out", "triangle-down-open", 11),
    "set aside": ("left-out", "square-open", 10),
}
_LEGEND_STAYS = {"itemclick": False, "itemdoubleclick": False, "traceorder": "normal"}


def history(
    points: Sequence[Point],
    band: Sequence[BandStep],
    changes: Sequence[Change],
    *,
    window: Window | None = None,
    until: datetime | date | None = None,
    ewma: Sequence[tuple[datetime | date, float | None]] = (),
    events: Sequence[Change] = (),
    height: int | None = None,
) -> theme.Figure:
    """Standardizations [J/K] with intervals, the band before each, and changes of parts.

    The band is drawn on to ``until``, for the next value. ``ewma`` are weighted means, None where
    a new phase begins. ``events`` of the bench log are ticks along the bottom.
    """
    traces = [
        *_band(band, points, until),
        *_line(points, changes),
        *_ewma(ewma),
        *_by_state(points),
        *_events(events),
    ]
    return theme.figure(
        traces,
        {
            "xaxis": dates([p["at"] for p in points], window),
            "yaxis": values("Heat capacity (J/K)", tickformat=",.0f", nticks=7),
            "yaxis2": {"overlaying": "y", "range": [0, 1], "visible": False, "fixedrange": True},
            "shapes": [_change(change) for change in changes],
            "showlegend": True,
            "legend": {"orientation": "h", "y": 1.03, "yanchor": "bottom", "x": 0, **_LEGEND_STAYS},
            "margin": margins(top=28),
            **({"height": height} if height else {}),
        },
    )


def _ewma(means: Sequence[tuple[datetime | date, float | None]]) -> list[theme.Properties]:
    if not any(mean is not None for _, mean in means):
        return []
    return [
        theme.scatter(
            [at for at, _ in means],
            [mean for _, mean in means],
            "crossing",
            mode="lines",
            line={"width": 2, "dash": "dot"},
            name="weighted mean (EWMA)",
        )
    ]


def _events(events: Sequence[Change]) -> list[theme.Properties]:
    if not events:
        return []
    return [
        theme.scatter(
            [event["at"] for event in events],
            [0.025] * len(events),
            "change",
            words=[event["words"] for event in events],
            yaxis="y2",
            mode="markers",
            marker={"symbol": "line-ns", "size": 12, "line": {"width": 2}},
            name="in the bench log",
        )
    ]


def _by_state(points: Sequence[Point]) -> list[theme.Properties]:
    groups = {state: [p for p in points if p["state"] == state] for state in MARKS}
    unknown = {p["state"] for p in points} - MARKS.keys()
    if unknown:
        raise ValueError(f"Points are {sorted(unknown)}; expected one of {list(MARKS)}.")
    return [_marks(state, group) for state, group in groups.items() if group]


def _marks(state: str, group: Sequence[Point]) -> theme.Properties:
    role, symbol, size = MARKS[state]
    return theme.scatter(
        [p["at"] for p in group],
        [p["j_per_k"] for p in group],
        role,
        words=[f"{p['words']}, {theme.shown(p['j_per_k'], 0)} J/K" for p in group],
        walk=state in ("approved", "in force"),
        error_y=_intervals(group),
        name=state,
        mode="markers",
        marker={"symbol": symbol, "size": size, "line": {"width": 2}},
    )


def _intervals(group: Sequence[Point]) -> theme.Properties:
    # What is not known stays NaN: null would be drawn as an interval of no length.
    def reach(bound: float | None, value: float) -> float:
        return np.nan if bound is None else abs(bound - value)

    return {
        "type": "data",
        "symmetric": False,
        "array": np.array([reach(p["high"], p["j_per_k"]) for p in group]),
        "arrayminus": np.array([reach(p["low"], p["j_per_k"]) for p in group]),
        "thickness": 1.5,
        "width": 5,
    }


def _line(points: Sequence[Point], changes: Sequence[Change]) -> list[theme.Properties]:
    """A hairline through the values that count, so that a slow drift shows; cut at changes."""
    counted = [p for p in points if p["state"] in ("approved", "in force")]
    if len(counted) < 2:
        return []
    # At a change the line has a place without a value, which interrupts it.
    breaks = [(change["at"], None) for change in changes]
    places = [*((p["at"], p["j_per_k"]) for p in counted), *breaks]
    places.sort(key=lambda place: place[0])
    return [
        theme.scatter(
            [at for at, _ in places],
            [value for _, value in places],
            "approved",
            mode="lines",
            line={"width": 1},
            showlegend=False,
        )
    ]


def _band(
    band: Sequence[BandStep], points: Sequence[Point], until: datetime | date | None
) -> list[theme.Properties]:
    """Steps: each level holds from its moment to the next one, the last to the end."""
    if not band:
        return []
    last = max([p["at"] for p in points] + [step["at"] for step in band])
    last = last if until is None else max(last, until)
    traces: list[theme.Properties] = []
    for stretch, end in _stretches(band, last):
        traces += _steps(stretch, end, in_legend=not traces)
    return traces


def _stretches(
    band: Sequence[BandStep], last: datetime | date
) -> list[tuple[list[BandStep], datetime | date]]:
    """Unbroken runs of steps, each with the moment it ends."""
    stretches: list[tuple[list[BandStep], datetime | date]] = []
    open_one: list[BandStep] = []
    for step in band:
        if step["mean"] is not None:
            open_one.append(step)
        elif open_one:
            stretches.append((open_one, step["at"]))
            open_one = []
    return [*stretches, (open_one, last)] if open_one else stretches


def _steps(
    stretch: Sequence[BandStep], end: datetime | date, *, in_legend: bool
) -> list[theme.Properties]:
    rows = [*stretch, stretch[-1]]
    at = [*(step["at"] for step in stretch), end]
    low, high, mean = ([row[key] for row in rows] for key in ("low", "high", "mean"))
    edge = {"width": 0, "shape": "hv"}
    middle = {"width": 1.5, "shape": "hv", "dash": "longdash"}
    lower = theme.scatter(at, low, "band", mode="lines", line=edge, showlegend=False)
    upper = theme.scatter(at, high, "band", mode="lines", line=edge, showlegend=in_legend)
    upper |= {"fill": "tonexty", "name": "where a value was expected"}
    mean_line = theme.scatter(at, mean, "band-mean", mode="lines", line=middle)
    mean_line |= {"name": "mean of earlier values", "showlegend": in_legend}
    return [lower, upper, mean_line]


def _change(change: Change) -> theme.Properties:
    mark = theme.upright_mark("change", change["at"], f" {change['words']}", layer="below")
    upright = {
        **mark["label"],
        "textangle": -90,
        "yanchor": "bottom",
        "xanchor": "right",
    }
    return {**mark, "label": upright, "line": {"width": 1.5, "dash": "dashdot"}}

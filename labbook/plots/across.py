"""One bench among all: its values over the years in per cent of its first baseline."""

from collections.abc import Sequence
from typing import TypedDict

import numpy as np
import plotly.graph_objects as go

from labbook.plots import theme
from labbook.plots.dates import Moment, Window, dates, margins, values

HEIGHT = 220


class Share(TypedDict):
    """A value as its distance from the first baseline in per cent; ``phase`` counts from 1."""

    at: Moment
    percent: float
    phase: int
    words: str
    left_out: bool


def across(
    shares: Sequence[Share],
    breaks: Sequence[Moment],
    window: Window,
    reach: tuple[float, float],
) -> go.Figure:
    """Values joined within a phase, breaks as upright marks; ``reach`` is the common scale [%]."""
    kept = [share for share in shares if not share["left_out"]]
    left_out = [share for share in shares if share["left_out"]]
    phases = sorted({share["phase"] for share in kept})
    traces = [_phase([share for share in kept if share["phase"] == phase]) for phase in phases]
    if left_out:
        traces.append(_marks(left_out, "left-out", "square-open", "markers"))
    return theme.figure(
        traces,
        {
            "xaxis": dates([], window),
            "yaxis": values("%", range=list(reach), nticks=5, ticksuffix="", zeroline=True),
            "shapes": [{**theme.upright_mark("change", at, ""), "layer": "below"} for at in breaks],
            "margin": {**margins(), "l": 56},
            "height": HEIGHT,
        },
    )


def _phase(shares: Sequence[Share]) -> go.Scatter:
    return _marks(shares, "approved", "circle", "lines+markers")


def _marks(shares: Sequence[Share], role: str, symbol: str, mode: str) -> go.Scatter:
    return go.Scatter(
        x=[share["at"] for share in shares],
        y=np.array([share["percent"] for share in shares]),
        mode=mode,
        line={"width": 1},
        marker={"symbol": symbol, "size": 7},
        text=[share["words"] for share in shares],
        meta=theme.meta(role, walk=True),
        hovertemplate="%{text}<extra></extra>",
    )

"""One bench among all: its values over the years in per cent of its first baseline."""

from collections.abc import Sequence
from typing import TypedDict

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
) -> theme.Figure:
    """Values joined within a phase, breaks as upright marks; ``reach`` is the common scale [%]."""
    kept = [share for share in shares if not share["left_out"]]
    left_out = [share for share in shares if share["left_out"]]
    phases = sorted({share["phase"] for share in kept})
    traces = [
        _marks([share for share in kept if share["phase"] == phase], "approved", "circle")
        for phase in phases
    ]
    if left_out:
        traces.append(_marks(left_out, "left-out", "square-open", mode="markers"))
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


def _marks(
    shares: Sequence[Share], role: str, symbol: str, mode: str = "lines+markers"
) -> theme.Properties:
    return theme.scatter(
        [share["at"] for share in shares],
        [share["percent"] for share in shares],
        role,
        words=[share["words"] for share in shares],
        walk=True,
        mode=mode,
        line={"width": 1},
        marker={"symbol": symbol, "size": 7},
    )

"""One sign of wear, run by run: a small chart below the heat-capacity history."""

from collections.abc import Sequence
from typing import TypedDict

from labbook.plots import theme
from labbook.plots.dates import Moment, Window, dates, margins, values

HEIGHT = 190


class Sign(TypedDict):
    """What one run, or one standardization, showed; left out where it counts in no mean."""

    at: Moment
    value: float
    words: str
    left_out: bool


def wear(signs: Sequence[Sign], title: str, window: Window | None) -> theme.Figure:
    """Dots over time; ``title`` is that of the value axis, with its unit."""
    kept = [sign for sign in signs if not sign["left_out"]]
    left_out = [sign for sign in signs if sign["left_out"]]
    return theme.figure(
        [
            _dots(kept, "approved", "circle"),
            *([_dots(left_out, "left-out", "square-open")] if left_out else []),
        ],
        {
            "xaxis": dates([sign["at"] for sign in signs], window),
            "yaxis": values(title, nticks=4),
            "margin": margins(),
            "height": HEIGHT,
        },
    )


def _dots(signs: Sequence[Sign], role: str, symbol: str) -> theme.Properties:
    return theme.scatter(
        [sign["at"] for sign in signs],
        [sign["value"] for sign in signs],
        role,
        words=[sign["words"] for sign in signs],
        walk=True,
        mode="markers",
        marker={"symbol": symbol, "size": 6},
    )

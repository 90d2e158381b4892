"""Several markers of one hand-in, part by part: how much of its points each gave."""

from collections.abc import Sequence
from typing import TypedDict

from labbook.plots import theme

SYMBOLS = (
    "circle", "square-open", "diamond", "triangle-up-open", "cross", "star-open", "hexagon",
    "triangle-down-open",
)  # fmt: skip
BETWEEN = 0.6  # of a row, over which the markers of one part stand apart


class Marker(TypedDict):
    """One marker's share of each part's points [%], None where the part has none, with words."""

    name: str
    percent: list[float | None]
    words: list[str]


def spread(parts: Sequence[str], markers: Sequence[Marker]) -> theme.Figure:
    """A row for each part, a dot for each marker, told apart by their shape."""
    step = BETWEEN / max(len(markers), 1)
    middle = (len(markers) - 1) / 2
    dots = [
        theme.scatter(
            marker["percent"],
            [row + step * (number - middle) for row in range(len(parts))],
            "approved",
            words=marker["words"],
            walk=True,
            mode="markers",
            marker={"size": 11, "symbol": SYMBOLS[number % len(SYMBOLS)], "line": {"width": 2}},
            name=marker["name"],
        )
        for number, marker in enumerate(markers)
    ]
    rows = list(range(len(parts)))
    return theme.figure(
        dots,
        {
            "xaxis": theme.axis("Share of points (%)", range=[-4, 104], dtick=25),
            "yaxis": theme.axis(
                "",
                tickvals=rows,
                ticktext=list(parts),
                range=[len(parts) - 0.5, -0.5],
                showgrid=False,
            ),
            "showlegend": True,
            "legend": {"orientation": "h", "y": 1.03, "yanchor": "bottom", "x": 0},
            "height": 150 + 52 * len(parts),
        },
    )

"""Groups beside each other without any of them: medians, with the middle half as a field."""

from collections.abc import Sequence
from typing import NamedTuple

from labbook.plots import theme

ROW, AROUND = 30, 104


class Spread(NamedTuple):
    """The median over some groups and, where it may be shown, their middle half."""

    name: str
    median: float
    lower: float | None
    upper: float | None
    words: str


def compared(rows: Sequence[Spread], title: str) -> theme.Figure:
    """One line a part of the term, the first on top; ``title`` is the axis's, with its unit."""
    medians = theme.scatter(
        [row.median for row in rows],
        [row.name for row in rows],
        "approved",
        words=[row.words for row in rows],
        walk=True,
        mode="markers",
        marker={"symbol": "line-ns-open", "size": 16, "line": {"width": 3}},
    )
    return theme.figure(
        [medians],
        {
            "xaxis": theme.axis(title, nticks=6, range=_around(rows)),
            "yaxis": theme.axis("", autorange="reversed", type="category"),
            "shapes": [
                _middle_half(place, row) for place, row in enumerate(rows) if row.upper is not None
            ],
            "height": AROUND + ROW * len(rows),
        },
    )


def _around(rows: Sequence[Spread]) -> list[float]:
    """A little more than all that is drawn."""
    drawn = [at for row in rows for at in (row.median, row.lower, row.upper) if at is not None]
    beyond = 0.06 * (max(drawn) - min(drawn)) or 0.1
    return [min(drawn) - beyond, max(drawn) + beyond]


def _middle_half(place: int, row: Spread) -> theme.Properties:
    return {
        "type": "rect",
        "name": "band",
        "x0": row.lower,
        "x1": row.upper,
        "y0": place - 0.3,
        "y1": place + 0.3,
        "layer": "below",
        "line": {"width": 1},
    }

"""Replicates side by side, with the interval of their mean."""

from collections.abc import Sequence

import numpy as np

from labbook.plots import theme


def replicates(
    runs: Sequence[tuple[str, float]], lower: float | None, upper: float | None
) -> theme.Figure:
    """C of each run [J/K] as a dot, the mean as a line, its 95 % interval as a field."""
    words, values = [run for run, _ in runs], np.array([value for _, value in runs])
    mean = theme.upright_mark("in-force", values.mean(), "mean")
    field = {
        "type": "rect", "name": "band", "x0": lower, "x1": upper, "y0": 0, "y1": 1,
        "xref": "x", "yref": "paper", "layer": "below", "line": {"width": 0},
    }  # fmt: skip
    dots = theme.scatter(
        values,
        words,
        "approved",
        walk=True,
        mode="markers",
        marker={"size": 12, "symbol": "circle"},
        name="runs",
        hovertemplate="%{y}: %{x:,.1f} J/K<extra></extra>",
    )
    return theme.figure(
        [dots],
        {
            "xaxis": theme.axis("Heat capacity (J/K)", tickformat=",.0f", nticks=6),
            "yaxis": theme.axis("", autorange="reversed", type="category"),
            "shapes": [field, mean] if lower is not None else [mean],
            "height": 150 + 34 * len(words),
        },
    )

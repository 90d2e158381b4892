"""What every figure shares: axes, margins, and how a mark says its role.

No colour stands here. Traces carry `meta.role`, shapes and annotations their `name`; the page looks
the role up among its custom properties, so both themes follow one list. No text carries markup
that plotly would turn into a style attribute: the pages' security policy refuses those.
"""

from collections.abc import Mapping
from typing import Any

import plotly.graph_objects as go

from labbook.typesetting.numbers import THIN_SPACE, figures, set_decimal

MOST_MARKERS = 400  # more are drawn as a line alone, which stays quick to redraw

Properties = dict[str, Any]


def meta(role: str, *, walk: bool = False) -> Properties:
    """`walk`: the arrow keys go along this trace's points."""
    return {"role": role, "walk": walk}


def axis(title: str, **more: object) -> Properties:
    """Title with its unit, ticks outside, hairline grid, no line at zero."""
    return {
        "title": {"text": title, "standoff": 8},
        "ticks": "outside",
        "ticklen": 5,
        "showline": True,
        "zeroline": False,
        "automargin": True,
        **more,
    }


def shown(value: float, decimals: int) -> str:
    """A number inside a plot, set as everywhere else."""
    rounded = figures(value, None, decimals)
    return set_decimal(rounded.value) if rounded else "not known"


def figure(traces: list[Any], layout: Mapping[str, object]) -> go.Figure:
    return go.Figure(
        data=traces,
        layout={
            "template": {},
            "margin": {"l": 16, "r": 16, "t": 28, "b": 16},
            "font": {"size": 14},
            "hovermode": "closest",
            "dragmode": "zoom",
            "showlegend": False,
            "separators": f".{THIN_SPACE}",
            "uirevision": "as the reader left it",
            **layout,
        },
    )


def upright_mark(name: str, x: object, words: str, **more: object) -> Properties:
    """A line from top to bottom of the main axes with its words at the top."""
    return {
        "type": "line",
        "name": name,
        "x0": x,
        "x1": x,
        "y0": 0,
        "y1": 1,
        "xref": "x",
        "yref": "y domain",
        "line": {"width": 2, "dash": "dash"},
        "label": {
            "text": words,
            "textposition": "end",
            "textangle": 0,
            "yanchor": "bottom",
        },
        **more,
    }

"""What every figure shares: axes, margins, and how a mark says its role.

A figure is a plain dict in the form plotly's script reads, arrays and moments left as they are:
building plotly's own objects takes longer than reading the data from the database. The tests hand
every figure to those objects, which know each property by name.

No colour stands here. Traces carry `meta.role`, shapes and annotations their `name`; the page looks
the role up among its custom properties, so both themes follow one list. No text carries markup
that plotly would turn into a style attribute: the pages' security policy refuses those.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from numpy.typing import NDArray

from labbook.typesetting.numbers import THIN_SPACE, figures, set_decimal

MOST_MARKERS = 400  # more are drawn as a line alone, which stays quick to redraw

Properties = dict[str, Any]
Figure = dict[str, Any]


def scatter(
    x: Sequence[object] | NDArray[Any],
    y: Sequence[object] | NDArray[Any],
    role: str,
    *,
    words: Iterable[str] | None = None,
    walk: bool = False,
    **more: object,
) -> Properties:
    """Marks or a line of one role. On pointing at a point its words are shown, else nothing.

    `walk`: the arrow keys go along its points.
    """
    if words is not None:
        more |= {"text": list(words), "hovertemplate": "%{text}<extra></extra>"}
    elif "hovertemplate" not in more:
        more["hoverinfo"] = "skip"
    return {"type": "scatter", "x": x, "y": y, "meta": {"role": role, "walk": walk}, **more}


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


def figure(traces: list[Properties], layout: Mapping[str, object]) -> Figure:
    shared = {
        "margin": {"l": 16, "r": 16, "t": 28, "b": 16},
        "font": {"size": 14},
        "hovermode": "closest",
        "dragmode": "zoom",
        "showlegend": False,
        "separators": f".{THIN_SPACE}",
        "uirevision": "as the reader left it",
    }
    return {"data": traces, "layout": {**shared, **layout}}


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

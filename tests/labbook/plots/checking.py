"""Figures as plotly's own objects take them, which refuse a property they do not know."""

import json

import plotly.graph_objects as go

from labbook.plots.theme import Figure
from labbook.templatetags.plotting import FigureEncoder


def checked(figure: Figure) -> go.Figure:
    return go.Figure(figure)


def sent(figure: Figure) -> str:
    """What the browser gets."""
    return json.dumps(figure, cls=FigureEncoder)

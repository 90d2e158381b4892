"""Temperature against time: the readings, both drift lines, the crossing and the rise."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from labbook.plots import theme
from labbook.plots.found import Array, DriftLine, Found, Reduced, found_in
from labbook.typesetting.methods import METHODS


def thermogram(
    time_s: ArrayLike, temperature_c: ArrayLike, reduction: Reduced | None
) -> theme.Figure:
    """Readings (time [s], temperature [°C]) with what their reduction found in them.

    `reduction` holds `periods`, `drift`, `rise` and `rise_used` as a reduction gives them; None or
    empty draws the readings alone. What was not found (a line, the settled moment, the crossing)
    is left out, never guessed.
    """
    t = np.asarray(time_s, dtype=float)
    temperature = np.asarray(temperature_c, dtype=float)
    found = found_in(reduction, t)
    strips = _residuals(found, t, temperature)
    return theme.figure(
        [_readings(t, temperature), *_drift_lines(found), *strips, *_bracket(found)],
        {
            **_axes(temperature, with_strip=bool(strips)),
            "shapes": [*_period_fields(found), *_bounds(found), *_crossing_mark(found)],
            "annotations": [*_period_words(found, bool(strips)), *_rise_words(found)],
        },
    )


def _axes(temperature: Array, *, with_strip: bool) -> theme.Properties:
    """The residuals get a strip of their own below, where there are drift lines."""
    span = float(np.ptp(temperature)) if temperature.size else 1.0
    decimals = 1 if span <= 0 else min(4, max(1, math.ceil(-math.log10(span / 4))))
    shown = {"tickformat": f".{decimals}f", "nticks": 8}
    if not with_strip:
        return {
            "xaxis": theme.axis("Time (s)"),
            "yaxis": theme.axis("Temperature (°C)", **shown),
        }
    return {
        "xaxis": theme.axis("Time (s)", anchor="y2"),
        "yaxis": theme.axis("Temperature (°C)", domain=[0.34, 1], **shown),
        "yaxis2": theme.axis("Residual (mK)", domain=[0, 0.22], nticks=4),
    }


def _readings(t: Array, temperature: Array) -> theme.Properties:
    return theme.scatter(
        t,
        temperature,
        "readings",
        walk=True,
        name="readings",
        mode="lines+markers" if t.size <= theme.MOST_MARKERS else "lines",
        marker={"size": 5},
        line={"width": 1.5},
        hovertemplate="%{x:.1f} s, %{y:.4f} °C<extra></extra>",
    )


def _drift_lines(found: Found) -> list[theme.Properties]:
    """Each line solid over its own period and dashed on to the crossing."""
    drawn = []
    for role, outer, inner in (
        ("fore", found.start, found.fired),
        ("after", found.end, found.settled),
    ):
        line = found.lines.get(role)
        if line is None or inner is None:
            continue
        drawn.append(_line(role, line, (outer, inner), "solid"))
        if found.crossing:
            drawn.append(_line(role, line, (inner, found.crossing.at_s), "dash"))
    return drawn


def _line(role: str, line: DriftLine, span: tuple[float, float], dash: str) -> theme.Properties:
    ends = np.array(span, dtype=float)
    return theme.scatter(
        ends,
        line.at(ends),
        role,
        name=f"{role} line" + (", drawn on" if dash == "dash" else ""),
        mode="lines",
        line={"width": 2.5, "dash": dash},
    )


def _residuals(found: Found, t: Array, temperature: Array) -> list[theme.Properties]:
    """What each drift line leaves of the readings of its period, in mK."""
    strips = []
    for role, begin, end in found.spans:
        inside = (t >= begin) & (t <= end)
        line = found.lines.get(role)
        if line is not None and inside.any():
            left_mk = 1000 * (temperature[inside] - line.at(t[inside]))
            strips.append(_strip(role, t[inside], left_mk))
    return strips


def _strip(role: str, t: Array, left_mk: Array) -> theme.Properties:
    return theme.scatter(
        t,
        left_mk,
        role,
        yaxis="y2",
        name=f"{role} residuals",
        mode="markers" if t.size <= theme.MOST_MARKERS else "lines",
        marker={"size": 5, "symbol": "circle" if role == "fore" else "square"},
        line={"width": 1},
        hovertemplate="%{x:.1f} s, %{y:.2f} mK<extra></extra>",
    )


def _bracket(found: Found) -> list[theme.Properties]:
    """The rise at the crossing, from line to line."""
    if found.crossing is None or found.bracket is None:
        return []
    return [
        theme.scatter(
            np.full(2, found.crossing.at_s),
            np.array(found.bracket),
            "crossing",
            name="corrected rise",
            mode="lines+markers",
            line={"width": 3},
            marker={"symbol": "line-ew-open", "size": 14, "line": {"width": 3}},
        )
    ]


def _rise_words(found: Found) -> list[theme.Properties]:
    """Beside the bracket, below the curve, where the plot is empty."""
    if found.crossing is None or found.bracket is None:
        return []
    foot, top = found.bracket
    rise = theme.shown(found.crossing.rise_k, 4)
    return [
        {
            "name": "crossing",
            "text": f"ΔT = {rise} K<br>{METHODS[found.crossing.method]}",
            "x": found.crossing.at_s,
            "y": foot + 0.35 * (top - foot),
            "xanchor": "left",
            "xshift": 12,
            "align": "left",
            "showarrow": False,
            "font": {"size": 15},
        }
    ]


def _period_fields(found: Found) -> list[theme.Properties]:
    return [
        {
            "type": "rect",
            "name": f"{name}-period",
            "x0": begin,
            "x1": end,
            "y0": 0,
            "y1": 1,
            "xref": "x",
            "yref": "paper",
            "layer": "below",
            "line": {"width": 0},
        }
        for name, begin, end in found.spans
    ]


def _period_words(found: Found, with_strip: bool) -> list[theme.Properties]:
    return [
        {
            "name": "ink-soft",
            "text": name,
            "font": {"style": "italic"},
            "x": (begin + end) / 2,
            "y": 0.28 if with_strip else 0,
            "yref": "paper",
            "yanchor": "middle" if with_strip else "bottom",
            "showarrow": False,
        }
        for name, begin, end in found.spans
    ]


def _bounds(found: Found) -> list[theme.Properties]:
    """The two moments that can be dragged; their names say which input takes the new time."""
    moments = {"fired_at_s": (found.fired, "fired"), "settled_at_s": (found.settled, "settled")}
    return [
        theme.upright_mark(f"bound:{key}", at, f"◂ {words} ▸")
        for key, (at, words) in moments.items()
        if at is not None
    ]


def _crossing_mark(found: Found) -> list[theme.Properties]:
    if found.crossing is None:
        return []
    mark = theme.upright_mark("crossing", found.crossing.at_s, "", layer="below")
    return [{**mark, "line": {"width": 1, "dash": "dot"}}]

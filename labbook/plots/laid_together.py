"""Two series of readings laid one on the other, and what lies between them."""

import numpy as np
from numpy.typing import NDArray

from labbook.plots import theme

Array = NDArray[np.float64]
LEAST_REACH_MK = 2.0


def laid_together(
    first: tuple[Array, Array], second: tuple[Array, Array], shift: int, offset_k: float
) -> theme.Figure:
    """Both series (time [s], temperature [°C]), the second laid where it agrees best.

    It is moved by `shift` readings and down by `offset_k` [K]; the strip below shows, in mK, what
    is left between the two.
    """
    mine, theirs = _common(first[0].size, second[0].size, shift)
    moved_s = second[0] + (first[0][mine.start] - second[0][theirs.start])
    moved_c = second[1] - offset_k
    between_mk = np.round(1000 * (moved_c[theirs] - first[1][mine]), 4)
    return theme.figure(
        [
            theme.scatter(*first, "fore", name="first", mode="lines", line={"width": 2}),
            _second(moved_s, moved_c),
            _between(first[0][mine], between_mk),
        ],
        {
            "xaxis": theme.axis("Time of the first (s)", anchor="y2"),
            "yaxis": theme.axis("Temperature (°C)", domain=[0.34, 1], nticks=8),
            "yaxis2": theme.axis(
                "Between (mK)", domain=[0, 0.22], nticks=4, range=_around_zero(between_mk)
            ),
        },
    )


def _second(time_s: Array, temperature_c: Array) -> theme.Properties:
    """Rings on the line of the first; dashes where rings would run into each other."""
    is_dense = time_s.size > theme.MOST_MARKERS
    return theme.scatter(
        time_s,
        temperature_c,
        "crossing",
        name="second",
        walk=True,
        mode="lines" if is_dense else "markers",
        line={"width": 4, "dash": "dot"},
        marker={"size": 6, "symbol": "circle-open"},
        hovertemplate="%{x:.1f} s, %{y:.4f} °C<extra></extra>",
    )


def _between(time_s: Array, between_mk: Array) -> theme.Properties:
    return theme.scatter(
        time_s,
        between_mk,
        "crossing",
        yaxis="y2",
        name="between them",
        mode="markers",
        marker={"size": 4},
        hovertemplate="%{x:.1f} s, %{y:.2f} mK<extra></extra>",
    )


def _around_zero(between_mk: Array) -> list[float]:
    reach = max(LEAST_REACH_MK, 1.2 * float(np.abs(between_mk).max(initial=0.0)))
    return [-reach, reach]


def _common(mine: int, theirs: int, shift: int) -> tuple[slice, slice]:
    """The readings of either that lie on one of the other."""
    start, end = max(0, shift), min(mine, theirs + shift)
    return slice(start, end), slice(start - shift, end - shift)

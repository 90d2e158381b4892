"""Charts over the years that stand one below the other: one date axis, one left margin."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from labbook.plots import theme

Moment = datetime | date
Window = tuple[Moment, Moment]
SHORTEST_SPAN = timedelta(days=120)
LEFT, RIGHT = 84, 16


def dates(moments: Sequence[Moment], window: Window | None = None) -> theme.Properties:
    """Months and years; a few days of history stand in the middle of some months, not of hours."""
    axis = theme.axis("", type="date", tickformat="%b\n%Y", tickangle=0, automargin=False)
    if window is not None:
        narrow = window[1] - window[0] <= SHORTEST_SPAN
        return {**axis, "range": list(window), **({"dtick": "M1"} if narrow else {})}
    if not moments or max(moments) - min(moments) > SHORTEST_SPAN:
        return axis
    around = [min(moments) - SHORTEST_SPAN / 2, max(moments) + SHORTEST_SPAN / 2]
    return {**axis, "range": around, "dtick": "M1"}


def values(title: str, **more: object) -> theme.Properties:
    """A value axis whose numbers never move the charts below it sideways."""
    return theme.axis(title, automargin=False, **more)


def margins(top: int = 12, bottom: int = 44) -> theme.Properties:
    return {"l": LEFT, "r": RIGHT, "t": top, "b": bottom}

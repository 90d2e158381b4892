"""A bench's last values as a small drawing beside its name."""

from collections.abc import Sequence

from django.utils.html import format_html
from django.utils.safestring import SafeString

from labbook.plots import theme

Place = tuple[float, float]
WIDTH, HEIGHT, EDGE = 280, 52, 6


def trace(values: Sequence[float], *, title: str = "Heat capacity so far") -> SafeString:
    """Values [J/K] from old to new, the newest filled, a dashed line at the mean of the others."""
    if not values:
        return SafeString("")
    heights = _heights(values)
    places = list(zip(_spread(len(values)), heights, strict=True))
    return format_html(
        '<svg class="trace" viewBox="0 0 {} {}" role="img" '
        'aria-label="{}"><title>{}</title><desc>{}</desc>{}</svg>',
        WIDTH,
        HEIGHT,
        f"{title}: {_words(values)}",
        title,
        _words(values),
        # Numbers alone: nothing in it needs escaping.
        SafeString(_middle(heights) + _line(places) + _dots(places)),
    )


def _heights(values: Sequence[float]) -> list[float]:
    low, high = min(values), max(values)
    span = (high - low) or 1.0
    room = HEIGHT - 2 * EDGE
    if high == low:
        return [HEIGHT / 2] * len(values)
    return [HEIGHT - EDGE - room * (value - low) / span for value in values]


def _spread(count: int) -> list[float]:
    if count == 1:
        return [WIDTH / 2]
    return [EDGE + (WIDTH - 2 * EDGE) * place / (count - 1) for place in range(count)]


def _middle(heights: Sequence[float]) -> str:
    if len(heights) < 3:
        return ""
    y = sum(heights[:-1]) / (len(heights) - 1)
    return f'<path class="middle" d="M0 {y:.1f} H{WIDTH}"/>'


def _line(places: Sequence[Place]) -> str:
    return f'<path d="M{" L".join(f"{x:.1f} {y:.1f}" for x, y in places)}"/>'


def _dots(places: Sequence[Place]) -> str:
    *earlier, (x, y) = places
    dots = [f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2.5"/>' for x, y in earlier]
    return "".join([*dots, f'<circle class="last" cx="{x:.1f}" cy="{y:.1f}" r="4.5"/>'])


def _words(values: Sequence[float]) -> str:
    count = "1 value" if len(values) == 1 else f"{len(values)} values"
    return (
        f"{count} between {theme.shown(min(values), 0)} and "
        f"{theme.shown(max(values), 0)} J/K, the newest {theme.shown(values[-1], 0)} J/K"
    )

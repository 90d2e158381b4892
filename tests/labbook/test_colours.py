"""Colours in both themes: contrast as WCAG 2.2 defines it, and one home for every role."""

import re
from pathlib import Path

import pytest

STATIC = Path(__file__).parents[2] / "labbook/static/labbook"
TOKENS = (STATIC / "tokens.css").read_text()
PAIRS = dict(
    re.findall(r"--([\w-]+): (light-dark\(#[0-9a-f]{6}, #[0-9a-f]{6}\)|var\(--[\w-]+\));", TOKENS)
)
SURFACES = ("paper", "sheet", "inset", "entry")
TINTS = ("stop-tint", "check-tint", "note-tint")
STATES = ("steady", "watch", "out-of-line", "too-few", "settled", "ember")
TEXT = [
    *((ink, surface) for ink in ("ink", "ink-soft") for surface in SURFACES),
    *((ink, tint) for ink in ("ink", "ink-soft") for tint in TINTS),
    *((accent, surface) for accent in ("accent", "accent-strong") for surface in SURFACES),
    *((state, surface) for state in STATES for surface in ("paper", "sheet")),
    *(("accent", tint) for tint in TINTS),
    ("on-accent", "accent"),
    ("on-accent", "accent-strong"),
    ("on-grave", "out-of-line"),
    ("out-of-line", "stop-tint"),
    ("watch", "check-tint"),
    ("settled", "note-tint"),
    ("steady", "note-tint"),
    ("too-few", "note-tint"),
    *((f"plot-{role}", "sheet") for role in ("crossing", "change", "bound", "ink-soft")),
]
EDGES = [
    *(("rule-strong", surface) for surface in SURFACES),
    *(("focus", surface) for surface in SURFACES),
    *(
        (f"plot-{role}", "sheet")
        for role in ("readings", "fore", "after", "approved", "in-force", "left-out", "band-mean")
    ),
]


def colour(name: str, theme: int) -> str:
    value = PAIRS[name]
    if value.startswith("var"):
        return colour(value[6:-1], theme)
    return re.findall(r"#[0-9a-f]{6}", value)[theme]


def luminance(hexadecimal: str) -> float:
    """WCAG 2.2, definition of relative luminance."""
    parts = [int(hexadecimal[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, definition of contrast ratio."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_of_black_on_white_is_the_greatest_there_is() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    # #767676 is the lightest grey that passes on white (trade knowledge, from memory).
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


@pytest.mark.parametrize("theme", [0, 1], ids=["light", "dark"])
@pytest.mark.parametrize(("text", "surface"), TEXT)
def test_text_is_legible(text: str, surface: str, theme: int) -> None:
    """WCAG 2.2, 1.4.3 (AA): 4.5 to 1 for text of any size."""
    assert contrast(colour(text, theme), colour(surface, theme)) >= 4.5


@pytest.mark.parametrize("theme", [0, 1], ids=["light", "dark"])
@pytest.mark.parametrize(("edge", "surface"), EDGES)
def test_edges_of_controls_and_marks_can_be_seen(edge: str, surface: str, theme: int) -> None:
    """WCAG 2.2, 1.4.11 (AA): 3 to 1 for what tells a control or a mark apart."""
    assert contrast(colour(edge, theme), colour(surface, theme)) >= 3


def test_colours_stand_in_one_file_only() -> None:
    sheets = {path.name: path.read_text() for path in STATIC.glob("*.css")}
    coloured = {
        name
        for name, text in sheets.items()
        if re.search(r"#[0-9a-fA-F]{3,8}\b|\brgba?\(|\bhsla?\(", text)
    }
    assert coloured == {"tokens.css", "print.css", "paper.css", "paper_on_screen.css"}


def test_every_custom_property_used_is_defined() -> None:
    defined = set(re.findall(r"^\s*--([\w-]+):", TOKENS, re.MULTILINE))
    used = {
        name
        for path in STATIC.glob("*.css")
        for name in re.findall(r"var\(--([\w-]+)\)", path.read_text())
    }
    assert used <= defined

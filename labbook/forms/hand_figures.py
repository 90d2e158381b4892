"""The rows of the hand figures, ready for the page."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from django.urls import reverse

from reduction.hand.steps import STEPS, needed_for

from ..intake.figures import read_figure, read_moment
from ..lookups.hand_figures import HandFigures
from ..models import HandFigure
from ..typesetting.numbers import set_decimal

HINTS = {
    "fore_drift": "Positive while the water warms.",
    "after_drift": "Positive while the water warms.",
    "crossing": "In seconds, or minutes and seconds: 342 or 5:42.",
    "rise": "From the fore line up to the after line, at the crossing.",
    "charge": "By difference; blank if you took it from the sheet.",
    "fuse": "Of the wire that burned; blank if it is left out.",
    "acid": "From the titre; blank if it is left out.",
    "capacity": "With all the heat released, at the nominal bucket water.",
    "capacity_used": "The value approved for the bench, or your own mean.",
    "du": "Negative: the charge loses it.",
    "dn": "Gases formed less gases used up, for one mole burned.",
}


@dataclass
class HandRow:
    """One figure as it stands, or as it was just typed and refused."""

    name: str
    label: str
    value: str
    unit: str
    units: tuple[str, ...]
    url: str
    hint: str = ""
    required: bool = False
    version: int = 0
    saved_at: Any = None
    saved_by: str = ""
    late: str = ""
    understood: str = ""
    earlier: list[dict[str, Any]] = field(default_factory=list)
    error: str = ""
    is_contested: bool = False
    locked: bool = False
    notes: None = None
    locked_why: str = ""


def hand_rows(hand: HandFigures, *, locked: bool) -> list[HandRow]:
    return [hand_row(hand, key, locked=locked) for key in hand.keys]


def hand_row(hand: HandFigures, key: str, *, locked: bool = False) -> HandRow:
    figure, step = hand.current.get(key), STEPS[key]
    units = tuple(step.units)
    return HandRow(
        name=key,
        label=step.words,
        value=figure.text if figure else "",
        unit=figure.unit if figure else units[0],
        units=units,
        url=reverse("enter_hand_figure", args=[hand.run.pk, key]),
        hint=HINTS.get(key, ""),
        required=key in needed_for(hand.run.kind),
        version=figure.pk if figure else 0,
        saved_at=figure.at if figure else None,
        saved_by=_writer(figure) if figure else "",
        late=_late(hand, figure) if figure else "",
        understood=_understood(figure) if figure else "",
        earlier=[_struck(old) for old in hand.earlier.get(key, [])],
        locked=locked,
    )


def _writer(figure: HandFigure) -> str:
    return str(figure.entered_by or figure.by)


def _late(hand: HandFigures, figure: HandFigure) -> str:
    """Said of a figure written when ours may have been seen already."""
    is_late = hand.saved is not None and figure.at > hand.saved.at
    return "after the figures stood" if is_late else ""


def _understood(figure: HandFigure) -> str:
    """What was read, where it does not stand there plainly."""
    if not {",", ":"} & set(figure.text):
        return ""
    read = read_moment(figure.text) if figure.key == "crossing" else read_figure(figure.text).value
    return f"Read as {set_decimal(read)} {figure.unit}."


def _struck(figure: HandFigure) -> dict[str, Any]:
    text = f"{figure.text} {figure.unit}".strip() if figure.text else "blank"
    return {"text": text, "who": _writer(figure), "when": figure.at}

"""What the reading of a logger file rests on, each item with what was found and the choices."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ..intake import Choices, Preview, Refusal
from ..intake.report import TIME_KINDS

Offered = tuple[tuple[str, str], ...]

FIXED: tuple[tuple[str, str, Offered], ...] = (
    ("delimiter", "Columns divided by",
     ((",", "comma"), (";", "semicolon"), ("tab", "tab"), ("space", "spaces"), ("|", "bar"))),
    ("decimal", "Decimal mark", ((".", "point"), (",", "comma"))),
    ("time_kind", "Time written as", tuple((kind, kind) for kind in TIME_KINDS)),
    ("day_first", "A date begins with", (("yes", "the day"), ("no", "the month"))),
    ("unit", "Temperature in", (("°C", "°C"), ("°F", "°F"), ("K", "K"))),
)  # fmt: skip
COLUMNS = (("time_column", "Time in"), ("temperature_column", "Temperature in"))


@dataclass(frozen=True)
class Item:
    name: str
    words: str
    choices: Offered
    chosen: str
    found: str


def items_of(understood: Preview | None, sent: Mapping[str, str]) -> list[Item]:
    columns = _columns(understood)
    offers = [*FIXED, *((name, words, columns) for name, words in COLUMNS if columns)]
    return [
        Item(name, words, choices, sent.get(name, ""), _found(understood, name, choices))
        for name, words, choices in offers
    ]


def _columns(understood: Preview | None) -> Offered:
    if understood is None:
        return ()
    return tuple(
        (str(column.number), f"column {column.number} {column.name}".strip())
        for column in understood.columns
    )


def _found(understood: Preview | None, name: str, choices: Offered) -> str:
    if understood is None:
        return ""
    value = getattr(understood, {"time_kind": "time"}.get(name, name), None)
    words = {True: "yes", False: "no", "\t": "tab", " ": "space"}.get(value, value)
    return "" if words is None else dict(choices).get(str(words), str(words))


CHOOSABLE = (*(name for name, _, _ in FIXED), *(name for name, _ in COLUMNS), "encoding", "parts")


LONGEST_CHOICE = 200


def choices_from(sent: Mapping[str, str]) -> Choices:
    """The choices of a form. Raises ``Refusal`` for one that is not offered."""
    chosen = {name: sent[name] for name in CHOOSABLE if sent.get(name)}
    for name, value in chosen.items():
        if len(value) > LONGEST_CHOICE:
            what = name.replace("_", " ")
            raise Refusal(f"{len(value)} characters were sent for {what}. Choose from the list.")
    return Choices.from_dict(chosen)

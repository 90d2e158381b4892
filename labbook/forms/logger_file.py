"""What the reading of a logger file rests on, each item with what was found and the choices."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from reduction.firings import Stretch

from ..intake import Choices, Preview, Refusal
from ..intake.report import TIME_KINDS
from ..lookups.file_firings import WHOLE, FileReadings, FileUse
from ..typesetting.moments import written_moment

Offered = tuple[tuple[str, str], ...]

FIXED: tuple[tuple[str, str, Offered], ...] = (
    ("delimiter", "Columns divided by",
     ((",", "comma"), (";", "semicolon"), ("tab", "tab"), ("space", "spaces"), ("|", "bar"))),
    ("decimal", "Decimal mark", ((".", "point"), (",", "comma"))),
    ("time_kind", "Time written as", tuple((kind, kind) for kind in TIME_KINDS)),
    ("day_first", "A date begins with", (("yes", "the day"), ("no", "the month"))),
    ("unit", "Unit of the temperature", (("°C", "°C"), ("°F", "°F"), ("K", "K"))),
    ("encoding", "Characters written as",
     (("utf-8", "UTF-8"), ("utf-16", "UTF-16"), ("cp1252", "one byte, western"),
      ("cp1250", "one byte, central European"))),
)  # fmt: skip
COLUMNS = (("time_column", "Time in"), ("temperature_column", "Temperature in"))


@dataclass(frozen=True)
class Item:
    name: str
    words: str
    choices: Offered
    chosen: str
    found: str


def items_of(shown: Preview | Refusal | None, sent: Mapping[str, str]) -> list[Item]:
    """Every item with what was found; the columns too where a table was found and then refused."""
    understood = shown if isinstance(shown, Preview) else None
    columns = _columns(shown)
    offers = [*FIXED, *((name, words, columns) for name, words in COLUMNS if columns)]
    return [
        Item(name, words, choices, sent.get(name, ""), _found(understood, name, choices))
        for name, words, choices in offers
    ]


def _columns(shown: Preview | Refusal | None) -> Offered:
    if shown is None:
        return ()
    return tuple(
        (str(column.number), f"column {column.number} {column.name}".strip())
        for column in shown.columns
    )


def _found(understood: Preview | None, name: str, choices: Offered) -> str:
    if understood is None:
        return ""
    value = getattr(understood, {"time_kind": "time"}.get(name, name), None)
    words = {True: "yes", False: "no", "\t": "tab", " ": "space"}.get(value, value)
    return "" if words is None else dict(choices).get(str(words), str(words))


CHOOSABLE = (*(name for name, _, _ in FIXED), *(name for name, _ in COLUMNS), "parts")


LONGEST_CHOICE = 200


def choices_from(sent: Mapping[str, str]) -> Choices:
    """The choices of a form. Raises ``Refusal`` for one that is not offered."""
    chosen = {name: sent[name] for name in CHOOSABLE if sent.get(name)}
    for name, value in chosen.items():
        if len(value) > LONGEST_CHOICE:
            what = name.replace("_", " ")
            raise Refusal(f"{len(value)} characters were sent for {what}. Choose from the list.")
    return Choices.from_dict(chosen)


@dataclass(frozen=True)
class FiringQuestion:
    """Which firing of a file is this run's; ``stretch`` is the one chosen, None for all of it."""

    sentence: str
    offers: Offered
    chosen: str
    stretch: Stretch | None

    @property
    def is_answered(self) -> bool:
        return self.chosen in dict(self.offers)


COUNTS = ("No", "One", "Two", "Three", "Four", "Five", "Six")


def firing_question(
    readings: FileReadings,
    firings: tuple[Stretch, ...],
    uses: list[FileUse],
    sent: Mapping[str, str],
) -> FiringQuestion | None:
    """None where the file holds a single firing and nothing is to be asked."""
    if not firings:
        return None
    moments = ", ".join(written_moment(firing.fired_at_s) for firing in firings)
    count = COUNTS[len(firings)] if len(firings) < len(COUNTS) else str(len(firings))
    offers = {
        str(number): _firing_words(readings, firing, uses)
        for number, firing in enumerate(firings, 1)
    }
    chosen = sent.get("firing", "")
    taken = dict(zip(offers, firings, strict=True)).get(chosen)
    return FiringQuestion(
        f"{count} firings found ({moments}). Which is this run?",
        (*offers.items(), (WHOLE, f"all of it: one run with {len(readings.times_s)} readings")),
        chosen,
        taken,
    )


def _firing_words(readings: FileReadings, firing: Stretch, uses: list[FileUse]) -> str:
    count = len(readings.within(firing).times_s)
    words = (
        f"the firing at {written_moment(firing.fired_at_s)}: {count} readings, "
        f"{written_moment(firing.from_s)} to {written_moment(firing.until_s)}"
    )
    taken = any(use.shares(firing) for use in uses)
    return f"{words}; another run has taken it" if taken else words

"""What was understood of a logger file: the records that leave this package."""

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Self

DELIMITER_WORDS = {
    "comma": ",",
    "semicolon": ";",
    "tab": "\t",
    "bar": "|",
    "space": " ",
    "\\t": "\t",
}
DELIMITERS = (";", "\t", "|", ",", " ")
MARK_WORDS = {"point": ".", "comma": ","}
UNIT_WORDS = {"c": "°C", "°c": "°C", "f": "°F", "°f": "°F", "k": "K"}
YES_NO = {"yes": True, "true": True, "1": True, "no": False, "false": False, "0": False}
TIME_KINDS = (
    "s",
    "ms",
    "min",
    "h",
    "days",
    "epoch s",
    "epoch ms",
    "serial days",
    "hh:mm:ss",
    "hh:mm",
    "mm:ss",
    "hhmmss",
    "date and time",
)


class Refusal(Exception):
    """The file cannot be read: what was seen, what was expected, what to do.

    Where a table was found, its columns are there to choose others from.
    """

    def __init__(
        self,
        sentence: str,
        first_rows: tuple[str, ...] = (),
        columns: "tuple[Column, ...]" = (),
        layout: str = "",
    ) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.first_rows = first_rows
        self.columns = columns
        self.layout = layout


@dataclass(frozen=True)
class Choices:
    """What a person has settled about a file; None leaves the item to be found from the file.

    Columns are given by name or by number (from 1); a date and a time in two columns as "1+2".
    """

    encoding: str | None = None
    delimiter: str | None = None
    decimal: str | None = None
    time_column: str | None = None
    time_kind: str | None = None
    day_first: bool | None = None
    temperature_column: str | None = None
    unit: str | None = None
    parts: str | None = None
    layout: str | None = None

    @classmethod
    def from_dict(cls, items: Mapping[str, object]) -> Self:
        """Read choices from a form, a command line or storage; blank means not chosen."""
        known = {item.name for item in dataclasses.fields(cls)}
        chosen: dict[str, Any] = {}
        for name, value in items.items():
            if name not in known:
                raise Refusal(f"There is no choice “{name}”. Choices are: {', '.join(known)}.")
            if value is not None and value != "":
                chosen[name] = _understood(name, value)
        return cls(**chosen)

    def as_dict(self) -> dict[str, str | bool]:
        """Only what was chosen."""
        pairs = dataclasses.asdict(self).items()
        return {name: value for name, value in pairs if value is not None}


def _understood(name: str, value: object) -> str | bool:
    """One choice in its stored form, or a refusal listing what is allowed."""
    if name == "day_first":
        if isinstance(value, bool):
            return value
        return bool(_one_of(name, str(value).strip().lower(), YES_NO))
    text = str(value)
    if name == "delimiter":
        same = {mark: mark for mark in DELIMITERS}
        return str(_one_of(name, text if text in same else text.lower(), DELIMITER_WORDS | same))
    text = text.strip()
    if name == "decimal":
        return str(_one_of(name, text.lower(), MARK_WORDS | {".": ".", ",": ","}))
    if name == "unit":
        return str(_one_of(name, text.lower(), UNIT_WORDS))
    if name == "time_kind":
        return str(_one_of(name, text, {kind: kind for kind in TIME_KINDS}))
    return text


def _one_of(name: str, value: str, allowed: Mapping[str, str | bool]) -> str | bool:
    if value not in allowed:
        expected = ", ".join(f"“{word}”" for word in allowed)
        raise Refusal(f"“{value}” was chosen for {name}. Expected one of {expected}.")
    return allowed[value]


@dataclass(frozen=True)
class Option:
    """One answer to a question; `value` goes into the choice named by the question's code."""

    value: str
    words: str


@dataclass(frozen=True)
class Question:
    """What the file alone cannot tell. `code` is the name of the choice that answers it."""

    code: str
    sentence: str
    choices: tuple[Option, ...] = ()


@dataclass(frozen=True)
class LeftOut:
    """A line of the file that gave no reading, and why."""

    line: int
    why: str


@dataclass(frozen=True)
class Column:
    """A column as found: its number from 1, its name and unit in the file, its first cells."""

    number: int
    name: str
    unit: str
    samples: tuple[str, ...]


@dataclass(frozen=True)
class Preview:
    """A file as understood. While any question is open there are no readings.

    `readings` are (seconds from the first reading, °C); `readings_text` holds each temperature
    exactly as it stands in the file, in the file's own unit, and `lines` the line it stands in,
    counted from 1. `first_time_s` is where elapsed
    times begin; `first_clock` is the clock time of the first reading, as ISO 8601 text.
    """

    encoding: str
    delimiter: str
    decimal: str | None
    time: str | None
    unit: str | None
    rows: int
    sha256: str
    layout: str
    first_rows: tuple[str, ...]
    columns: tuple[Column, ...]
    time_column: str | None = None
    temperature_column: str | None = None
    day_first: bool | None = None
    left_out: tuple[LeftOut, ...] = ()
    questions: tuple[Question, ...] = ()
    remarks: tuple[str, ...] = ()
    readings: tuple[tuple[float, float], ...] = field(default=(), repr=False)
    readings_text: tuple[str, ...] = field(default=(), repr=False)
    lines: tuple[int, ...] = field(default=(), repr=False)
    first_time_s: float | None = None
    first_clock: str | None = None

    def as_dict(self) -> dict[str, object]:
        """The documented JSON form."""
        return {
            "encoding": self.encoding,
            "delimiter": self.delimiter,
            "decimal": self.decimal,
            "time": self.time,
            "unit": self.unit,
            "rows": self.rows,
            "left_out": [dataclasses.asdict(item) for item in self.left_out],
            "questions": [_plain(question) for question in self.questions],
            "readings": [list(reading) for reading in self.readings],
        }

    def to_remember(self, settled: Choices) -> Choices:
        """What a bench may keep for its next file of the same layout.

        How the parts of one file were joined is true of that file only, so it is not kept.
        """
        return dataclasses.replace(settled, parts=None, layout=self.layout)


def _plain(question: Question) -> dict[str, object]:
    choices = [dataclasses.asdict(option) for option in question.choices]
    return {"code": question.code, "sentence": question.sentence, "choices": choices}

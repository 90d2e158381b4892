"""Problems as data, and the refusals that carry them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ..lookups.typed_readings import Standing
from ..models import HandFigure, SheetEntry

Severity = Literal["B", "W", "N"]


@dataclass(frozen=True)
class Problem:
    """``B`` blocks, ``W`` warns and asks, ``N`` is a note. ``lock`` names what a TA may unlock.

    ``answers`` are those of ``NoteAnswer.Answer`` that make sense for one that asks. ``about`` is
    the kind and key of the record where it is settled, for a page to lead there.
    """

    code: str
    severity: Severity
    sentence: str
    field: str = ""
    lock: str = ""
    answers: tuple[str, ...] = ()
    about: tuple[str, int] | None = None


class Refused(Exception):
    """An action that may not happen now, with every reason."""

    def __init__(self, *problems: Problem) -> None:
        super().__init__(" ".join(problem.sentence for problem in problems))
        self.problems = problems


class Conflict(Refused):
    """Somebody else wrote the same field first."""

    def __init__(self, theirs: SheetEntry | HandFigure, yours: str) -> None:
        super().__init__(
            Problem(
                "two people, one field",
                "W",
                f"Saved as {theirs.text or 'blank'} a moment ago by {theirs.by}; "
                f"you typed {yours or 'blank'}. Which is right?",
                field=theirs.field,
            )
        )
        self.theirs = theirs
        self.yours = yours


class Doubled(Refused):
    """Another reading stands at the same time; which counts is for the people to say."""

    def __init__(self, standing: Standing, yours: str) -> None:
        sentence = (
            f"Reading at {standing.time} saved as {standing.temperature} by {standing.by} at "
            f"{standing.at_clock}; you typed {yours}. Which?"
        )
        super().__init__(Problem("same time twice", "W", sentence, field="temperature"))
        self.standing = standing
        self.yours = yours


def refuse(code: str, sentence: str, field: str = "") -> Refused:
    return Refused(Problem(code, "B", sentence, field=field))


def refuse_if_blocked(problems: list[Problem]) -> None:
    """Raise Refused when any of the problems blocks."""
    blocking = [problem for problem in problems if problem.severity == "B"]
    if blocking:
        raise Refused(*blocking)


def check_length(text: str, at_most: int, field: str) -> None:
    """Raise Refused for text that no column takes: too long, or with a zero byte in it."""
    if "\0" in text:
        raise refuse("characters", "A zero byte was sent with the text. Type it again.", field)
    if len(text) > at_most:
        sentence = f"{len(text)} characters were typed; at most {at_most} are kept. Shorten it."
        raise refuse("too long", sentence, field)

"""What a slip would have made of a student's figures."""

from collections.abc import Iterator
from dataclasses import dataclass

from reduction.hand.chain import Figures, result_of
from reduction.hand.facts import Facts
from reduction.hand.steps import CALORIE


@dataclass(frozen=True)
class Slip:
    """What a slip gives, its code, and the question that names it."""

    value: float
    code: str
    question: str


Found = Iterator[Slip]


def with_change(
    key: str, f: Figures, facts: Facts, code: str, question: str, change: dict[str, float]
) -> Found:
    """The step worked out with some of the figures before it changed."""
    value = result_of(key, dict(f) | change, facts)
    if value is not None:
        yield Slip(value, code, question)


def thousands(right: float, question: str) -> Found:
    """A thousand times too large, or too small."""
    yield from (Slip(right * factor, "kilo", question) for factor in (1000.0, 0.001))


def calories(right: float) -> Found:
    question = "Calories in place of joules, or converted once too often (4.184)?"
    yield from (Slip(right * x, "calorie", question) for x in (CALORIE, 1.0 / CALORIE))

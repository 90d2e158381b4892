"""The first step of a student's chain that does not follow from the figures before it.

The chain is replayed from the top with the student's own figures: a step that follows from them is
right, even where an earlier one was wrong. At the first that does not, the slips known there are
worked out from the same figures, and the one that gives the student's figure is named.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from reduction.hand.chain import Expected, HandFigure, expected, order_of, result_of
from reduction.hand.facts import Facts
from reduction.hand.slip import Slip
from reduction.hand.slips import slips_at
from reduction.hand.steps import CURVE
from reduction.twins import Quantity, twin_note

AS_AN_ENERGY = ("fuse", "acid", "capacity", "capacity_used", "du", "dcu", "dch")
"""The steps whose figures may show the slips of any energy: calories, kilo, per mole."""
SMALLEST = 0.02
"""A slip that leaves next to nothing is still allowed this share of what a sound figure is."""
STRAYS = 1.3
"""A ruler's figure that no slip explains is named only this much beyond what is allowed."""
UNEXPLAINED = "It does not follow from your figures before it: work this step again."


@dataclass(frozen=True)
class Difference:
    """The first step that differs: the figure given, what follows there, and the likely slip."""

    key: str
    hand: float
    follows: float
    code: str
    question: str

    @property
    def is_explained(self) -> bool:
        return self.code != "unexplained"


def first_difference(hand: Mapping[str, HandFigure], facts: Facts) -> Difference | None:
    """The first step that does not follow, or None where every one does."""
    figures = dict(facts.ours)
    steps: dict[str, float] = {}
    for key in order_of(hand):
        given = hand[key]
        follows = expected(key, given, figures, steps, facts)
        if follows is None:
            continue
        if not _agrees(key, given, follows, facts):
            difference = _difference(key, given, follows, figures, facts)
            if difference is not None:
                return difference
        figures[key], steps[key] = given.value, given.step
    return None


def _agrees(key: str, given: HandFigure, follows: Expected, facts: Facts) -> bool:
    if abs(given.value - follows.value) <= follows.allowed:
        return True
    if key != "capacity_used":
        return False
    return any(abs(given.value - c) <= follows.allowed for c in facts.beside.capacities_too)


def _difference(
    key: str, given: HandFigure, follows: Expected, figures: Mapping[str, float], facts: Facts
) -> Difference | None:
    """None where no slip is known that would explain it, and a ruler may yet have strayed so."""
    slip = _likeliest(key, given, follows, slips_at(key, figures, facts))
    if slip is not None:
        return Difference(key, given.value, follows.value, slip.code, slip.question)
    code, question = _as_an_energy(key, given, follows, facts)
    strayed = abs(given.value - follows.value) <= STRAYS * follows.allowed
    if code == "unexplained" and key in CURVE and strayed:
        return None
    return Difference(key, given.value, follows.value, code, question)


def _likeliest(key: str, given: HandFigure, follows: Expected, slips: list[Slip]) -> Slip | None:
    """The slip that comes nearest, of those that explain the figure and would be seen at all."""
    fits = []
    for slip in slips:
        size = abs(slip.value / follows.value) if follows.value else 1.0
        scale = max(size, 1.0 if key == "crossing" else SMALLEST)
        allowed = follows.allowed * scale + given.step / 2.0
        off = abs(given.value - slip.value)
        if off <= allowed and off < abs(given.value - follows.value):
            fits.append((off / allowed if allowed else 0.0, slip))
    return min(fits, key=lambda fit: fit[0])[1] if fits else None


def _as_an_energy(key: str, given: HandFigure, follows: Expected, facts: Facts) -> tuple[str, str]:
    if key in AS_AN_ENERGY and given.value and follows.value:
        quantity = Quantity(follows.value, molar_mass=facts.ours.get("molar_mass"))
        note = twin_note(given.value, quantity, given.step)
        if note is not None:
            return note.code, note.advice
    return "unexplained", UNEXPLAINED


def put_right(hand: Mapping[str, HandFigure], first: Difference, facts: Facts) -> dict[str, float]:
    """The student's chain from the first differing step on, with that step alone put right.

    Later steps that rest on no other (a mass, Δn) stay as the student gave them.
    """
    figures = dict(facts.ours) | {key: given.value for key, given in hand.items()}
    figures[first.key] = first.follows
    mended = {first.key: first.follows}
    order = order_of(hand)
    for key in order[order.index(first.key) + 1 :]:
        value = result_of(key, figures, facts)
        if value is not None and key in ("rise", "capacity", "du", "dcu", "dch"):
            figures[key] = mended[key] = value
    return mended

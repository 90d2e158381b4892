"""What stands against a group's hand figures standing as its own."""

from __future__ import annotations

from reduction.hand.steps import STEPS

from ..lookups.hand_figures import HandFigures
from .refusals import Problem


def with_hand_figures(hand: HandFigures) -> list[Problem]:
    """What keeps the figures from standing; none of it says whether they are right."""
    problems = []
    if not hand.run.is_finished:
        sentence = "The run is not complete yet: finish its readings and its sheet first."
        problems.append(Problem("not complete", "B", sentence))
    for key in hand.missing:
        sentence = f"“{STEPS[key].words}” is still blank."
        problems.append(Problem("missing", "B", sentence, field=key))
    return problems

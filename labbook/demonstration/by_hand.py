"""A group works a run by hand, where its course wants that first: with ruler and squared paper."""

from __future__ import annotations

from decimal import Decimal

import numpy as np

from reduction.hand.chain import RULER, result_of
from reduction.hand.facts import Facts
from reduction.hand.steps import STEPS, needed_for

from ..actions.hand_figures import enter_hand_figure, save_hand_figures
from ..lookups.hand_comparison import facts_of_run
from ..models import Run
from ..typesetting.numbers import set_moment
from .hands import Hand

# The unit a figure is written in and its decimals.
WRITTEN = {
    "fore_drift": ("mK/min", 2),
    "after_drift": ("mK/min", 2),
    "crossing": ("s", 0),
    "rise": ("K", 3),
    "capacity": ("kJ/K", 3),
    "capacity_used": ("kJ/K", 3),
    "du": ("kJ/g", 3),
}


def work_by_hand(
    hand: Hand, run: Run, rng: np.random.Generator, *, forgets_sign: bool = False
) -> None:
    """Enter the figures a careful group would find, and let them stand.

    A group that forgets the sign gives the energy of combustion as released.
    """
    run = Run.objects.get(pk=run.pk)
    facts = None if run.result is None or run.result.failure else facts_of_run(run)
    if facts is None or facts.curve is None:
        return
    for key, value in _found(run, facts, rng).items():
        unit, decimals = WRITTEN[key]
        turned = -value if forgets_sign and key == "du" else value
        number = round(turned / STEPS[key].units[unit], decimals)
        is_moment = key == "crossing"
        text = set_moment(Decimal(int(number))) if is_moment else f"{number:.{decimals}f}"
        hand.wait(seconds=5)
        hand.do(enter_hand_figure, run, key, text, unit, entered_by=hand.writer)
    hand.do(save_hand_figures, run, entered_by=hand.writer)


def _found(run: Run, facts: Facts, rng: np.random.Generator) -> dict[str, float]:
    """Figure by figure from those before it, as far as a ruler tells."""
    curve = facts.curve
    assert curve is not None
    ruler_k, figures = RULER * abs(curve.end_to_end_k), dict(facts.ours)
    figures["fore_drift"] += rng.normal(0, ruler_k / curve.fore.span_s)
    figures["after_drift"] += rng.normal(0, ruler_k / curve.after.span_s)
    figures["crossing"] = round(figures["crossing"] + rng.normal(0, RULER * curve.lasts_s))
    keys = [key for key in needed_for(run.kind) if key in figures]
    for key in keys[3:]:
        value = result_of(key, figures, facts)
        assert value is not None
        figures[key] = round(value + (rng.normal(0, ruler_k) if key == "rise" else 0.0), 3)
    return {key: figures[key] for key in keys}

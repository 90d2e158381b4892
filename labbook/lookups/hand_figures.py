"""The students' own figures of a run as they stand, with those struck out behind them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

from reduction.hand.chain import HandFigure as Understood
from reduction.hand.steps import STEPS, needed_for, steps_for

from ..intake.figures import read_figure, read_moment
from ..models import HandFigure, HandFiguresSaved, LiteratureValue, Run

ROUNDED_WITHIN = Decimal("0.001")


class HandFigures:
    """The hand figures of one run. ``current`` holds the newest of each step."""

    def __init__(self, run: Run) -> None:
        self.run = run
        by_key: dict[str, list[HandFigure]] = defaultdict(list)
        for figure in run.hand_figures.select_related("by", "entered_by"):
            by_key[figure.key].append(figure)
        self.current = {key: figures[-1] for key, figures in by_key.items()}
        self.earlier = {key: figures[:-1] for key, figures in by_key.items()}
        self.saved: HandFiguresSaved | None = run.hand_figures_saved.select_related(
            "by", "entered_by"
        ).first()

    @property
    def keys(self) -> tuple[str, ...]:
        """The steps this run asks for; those per mole only once the sample is revealed."""
        sample = self.run.sample
        is_named = sample is not None and not sample.is_hidden
        return steps_for(self.run.kind, is_named=is_named)

    @property
    def missing(self) -> list[str]:
        """The steps that must be there before the figures can stand."""
        return [key for key in needed_for(self.run.kind) if not self._text(key)]

    def _text(self, key: str) -> str:
        figure = self.current.get(key)
        return figure.text if figure else ""

    @cached_property
    def figures(self) -> dict[str, Understood]:
        """Every figure that is filled in, in the units the chain is reckoned in."""
        return figures_in(self.keys, self.current)


def figures_in(keys: Iterable[str], current: Mapping[str, HandFigure]) -> dict[str, Understood]:
    """Of these steps, those that are filled in."""
    filled = (current[key] for key in keys if key in current and current[key].text)
    return {figure.key: understood(figure.key, figure.text, figure.unit) for figure in filled}


def understood(key: str, text: str, unit: str) -> Understood:
    """A figure as typed, in the unit its step is reckoned in.

    Zeros that end a whole number may be places that were never known: up to a tenth of a percent
    they are not held against a figure.
    """
    factor = STEPS[key].units[unit]
    if key == "crossing":
        return Understood(float(read_moment(text)) * factor, factor)
    figure = read_figure(text)
    step = Decimal(1).scaleb(-figure.decimals)
    if not figure.decimals:
        while figure.value and figure.value % (step * 10) == 0:
            if step * 10 > abs(figure.value) * ROUNDED_WITHIN:
                break
            step *= 10
    return Understood(float(figure.value) * factor, float(step) * factor)


@dataclass(frozen=True)
class CitedValues:
    """What the group looked up, the newest first, and the record's own value with its citation."""

    by_group: list[LiteratureValue]
    own_kj_per_mol: Decimal | None = None
    own_u_kj_per_mol: Decimal | None = None
    own_citation: str = ""

    @property
    def newest(self) -> LiteratureValue | None:
        return self.by_group[0] if self.by_group else None


def literature_of(run: Run) -> CitedValues | None:
    """None for as long as nobody but the staff may know what was burned."""
    if run.sample is None or run.sample.is_hidden:
        return None
    cited = run.literature.select_related("by", "entered_by", "looked_up_by").order_by("-pk")
    substance = run.sample.substance
    return CitedValues(
        list(cited),
        substance.literature_dch_kj_per_mol,
        substance.literature_u_kj_per_mol,
        substance.citation,
    )

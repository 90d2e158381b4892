"""Hand, computed and literature figures side by side, and the first step that differs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import floor, log10
from typing import Any, Protocol

from reduction.errors import ReductionError
from reduction.hand.chain import HandFigure as Understood
from reduction.hand.facts import Beside, Facts, facts_of, rt_kj_per_mol
from reduction.hand.replay import Difference, first_difference, put_right
from reduction.hand.steps import STEPS

from ..models import Account, HandFigure, Run
from .hand_figures import CitedValues, HandFigures, literature_of, understood
from .inputs import inputs_of
from .outputs import kept_outputs, run_file
from .readings import readings_of
from .sheets import Sheet, sheets_of

BUDGETS = {"capacity": "heat_capacity", "du": "du", "dcu": "dcu", "dch": "dch"}
SHOWN_DIGITS = 5
NEARLY_NOTHING = 1e-12


@dataclass(frozen=True)
class Compared:
    """One step in the unit the group chose; percent and u are of ours."""

    key: str
    words: str
    unit: str
    hand: HandFigure | None
    ours: float | None
    ours_u: float | None
    decimals: int
    percent: float | None
    in_u: float | None
    literature: float | None
    differs: bool


@dataclass(frozen=True)
class Comparison:
    """``carried`` is what the group's own figures give at the end, the first slip put right."""

    rows: list[Compared]
    first: Difference | None
    first_words: str
    carried: tuple[str, float, str, int] | None
    literature: CitedValues | None


def comparison_of(run: Run, account: Account) -> Comparison | None:
    """None while ours are withheld from the account, and where there is nothing to compare."""
    outputs, hand = kept_outputs(run, account), HandFigures(run)
    if not outputs.values or not hand.current:
        return None
    facts = facts_of_run(run)
    return None if facts is None else compared(hand, facts, outputs.values, literature_of(run))


class Chain(Protocol):
    """Figures by hand, of a run as it is or as it was handed in."""

    @property
    def keys(self) -> tuple[str, ...]: ...
    @property
    def current(self) -> Mapping[str, HandFigure]: ...
    @property
    def figures(self) -> dict[str, Understood]: ...


def compared(
    hand: Chain, facts: Facts, values: dict[str, Any], literature: CitedValues | None
) -> Comparison:
    first = first_difference(hand.figures, facts)
    cited = _molar(facts, literature)
    rows = [_row(key, hand, facts, values, cited, first) for key in hand.keys]
    words = STEPS[first.key].words if first else ""
    carried = _carried(hand, put_right(hand.figures, first, facts)) if first else None
    return Comparison(rows, first, words, carried, literature)


def facts_of_run(run: Run) -> Facts | None:
    """What a run's figures by hand are followed through; it is for no page by itself."""
    sheet, readings = Sheet(run), readings_of(run)
    if run.result is None or not run.result.outputs:
        return None
    now = inputs_of(run, sheet, readings)
    try:
        inputs = run_file({**run.result.inputs, "readings": now["readings"]})
    except ReductionError:  # kept by an earlier version, under names no longer read
        return None
    return facts_of(inputs, run.result.outputs, _beside(run, sheet))


def _beside(run: Run, sheet: Sheet) -> Beside:
    others = list(run.group.runs.exclude(pk=run.pk).select_related("result", "fuse_lot"))
    results = [other.result for other in others if other.result is not None]
    return beside_of(
        sheet,
        sheets_of(others),
        rises=[found.rise_k for found in results],
        capacities=[found.c_j_per_k for found in results],
        own=_own_capacities(others),
    )


def beside_of(
    sheet: Sheet,
    others: Iterable[Sheet],
    *,
    rises: Iterable[float | None],
    capacities: Iterable[float | None],
    own: Iterable[HandFigure | None],
) -> Beside:
    """What may have been taken by mistake: of the sheet, or of the group's other runs."""
    charges = [other.charge_g for other in others]
    return Beside(
        gross_g=_number(sheet, "charge_gross_g"),
        tare_g=_number(sheet, "charge_tare_g"),
        fuse_before=_number(sheet, "fuse_before"),
        fuse_left=_number(sheet, "fuse_left"),
        charges_g=tuple(float(charge) for charge in charges if charge is not None),
        rises_k=tuple(rise for rise in rises if rise is not None),
        capacities_j_per_k=tuple(c for c in capacities if c is not None),
        capacities_too=_own_mean(own),
    )


def _number(sheet: Sheet, key: str) -> float | None:
    value = sheet.number(key)
    return None if value is None else float(value)


def _own_capacities(others: list[Run]) -> Iterable[HandFigure]:
    """The newest heat capacity by hand of each run of a standardization."""
    standards = [other for other in others if other.standardization_id is not None]
    found = HandFigure.objects.filter(run__in=standards, key="capacity")
    return {figure.run_id: figure for figure in found}.values()


def _own_mean(capacities: Iterable[HandFigure | None]) -> tuple[float, ...]:
    """The mean of the group's own heat capacities by hand: it may well go on with that."""
    given = [figure for figure in capacities if figure is not None and figure.text]
    values = [understood(figure.key, figure.text, figure.unit).value for figure in given]
    return (sum(values) / len(values),) if values else ()


def _molar(facts: Facts, literature: CitedValues | None) -> dict[str, float]:
    """The literature value, and what it comes to without Δn·R·T and per gram."""
    dch = None if literature is None else literature.own_kj_per_mol
    if literature is not None and literature.newest is not None:
        dch = literature.newest.dch_kj_per_mol
    if dch is None or "molar_mass" not in facts.ours:
        return {}
    dcu = float(dch) - facts.ours["dn"] * rt_kj_per_mol()
    return {"dch": float(dch), "dcu": dcu, "du": 1000.0 * dcu / facts.ours["molar_mass"]}


def _row(
    key: str,
    hand: Chain,
    facts: Facts,
    values: dict[str, Any],
    cited: dict[str, float],
    first: Difference | None,
) -> Compared:
    figure = hand.current.get(key)
    unit = figure.unit if figure else next(iter(STEPS[key].units))
    factor = STEPS[key].units[unit]
    ours, u = facts.ours.get(key), _u_of(key, values)
    given = hand.figures.get(key)
    off = None if given is None or ours is None else given.value - ours
    return Compared(
        key=key,
        words=STEPS[key].words,
        unit=unit,
        hand=figure if given is not None else None,
        ours=None if ours is None else ours / factor,
        ours_u=None if not u else u / factor,
        decimals=decimals_of(None if ours is None else ours / factor),
        percent=_percent(key, off, ours),
        in_u=None if off is None or not u else off / u,
        literature=None if key not in cited else cited[key] / factor,
        differs=first is not None and first.key == key,
    )


def _percent(key: str, off: float | None, ours: float | None) -> float | None:
    """Of ours; of a moment there is none, since its clock may start anywhere."""
    if off is None or ours is None or abs(ours) < NEARLY_NOTHING or key == "crossing":
        return None
    return 100 * off / abs(ours)


def decimals_of(value: float | None) -> int:
    """Enough to see five figures, where no uncertainty says how many."""
    if value is None or abs(value) < NEARLY_NOTHING:
        return 3
    return min(9, max(0, SHOWN_DIGITS - 1 - floor(log10(abs(value)))))


def _u_of(key: str, values: dict[str, Any]) -> float | None:
    if key == "rise":
        found: float | None = values["rise_used"].get("u_k")
        return found
    budget = (values.get("budget") or {}).get(BUDGETS.get(key, ""))
    return None if budget is None else float(budget["u"])


def _carried(hand: Chain, mended: dict[str, float]) -> tuple[str, float, str, int] | None:
    """The last step the mended chain reaches, in the group's own unit."""
    key = list(mended)[-1]
    unit = hand.current[key].unit
    value = mended[key] / STEPS[key].units[unit]
    return STEPS[key].words, value, unit, decimals_of(value)

"""What the replicates of a standardization say together: notes, and the budget of their mean."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Any

from reduction.budget import Budget, Row, mean_budget, replicates_against_budget
from reduction.notes import Note, Thresholds
from reduction.replicates import replicate_notes

from ..models import Standardization
from .standardizations import Summary


@dataclass(frozen=True)
class Together:
    """``budget`` of the mean, None for results kept before there were budgets."""

    notes: list[Note]
    budget: Budget | None
    disagreement: str | None


def together(standardization: Standardization, summary: Summary) -> Together:
    thresholds = Thresholds.from_dict(standardization.method.thresholds)
    values = [value for _, value in summary.counted]
    acceptable = float(standardization.method.acceptable_spread_percent) / 100
    repeatability = acceptable * summary.replicates.mean if summary.replicates else None
    notes = replicate_notes(values, thresholds, repeatability) if values else []
    budget = _budget_of(summary)
    if budget is None or summary.replicates is None:
        return Together(notes, budget, None)
    return Together(notes, budget, replicates_against_budget(summary.replicates, budget))


def common_u_of(summary: Summary) -> float | None:
    """What the runs share of the uncertainty of their mean [J/K]: it does not average out."""
    budget = _budget_of(summary)
    if budget is None:
        return None
    return sqrt(sum(row.contribution**2 for row in budget.rows if row.shared))


def _budget_of(summary: Summary) -> Budget | None:
    kept = [run.result.outputs.get("budget") for run, _ in summary.counted if run.result]
    budgets = [found["heat_capacity"] for found in kept if found and "heat_capacity" in found]
    if not budgets or len(budgets) < summary.n:
        return None
    return mean_budget([_read(budget) for budget in budgets])


def _read(plain: dict[str, Any]) -> Budget:
    return Budget(**{**plain, "rows": tuple(Row(**row) for row in plain["rows"])})

"""Uncertainty budgets of C and of the heat of combustion, by the GUM (JCGM 100:2008).

Every input is moved up and down by its standard uncertainty through the energy balance itself,
`u_i(y) = |f(x_i + u_i) − f(x_i − u_i)|/2` (GUM 5.1.3, note 2), so that a budget always follows the
formulas and corrections in force. Combined `u² = Σ u_i²`, effective degrees of freedom by
Welch–Satterthwaite (G.4.1), coverage factor from Student's t at 95 %.
"""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from math import inf, isfinite, sqrt

from reduction.budget_inputs import InputQuantity, State, input_quantities, results
from reduction.curve import Values
from reduction.inputs import RunInputs
from reduction.replicates import Summary, chi_square, student_t

UNITS = {
    "heat_capacity": "J/K",
    "du": "J/g",
    "dcu": "kJ/mol",
    "dch": "kJ/mol",
    "dfh": "kJ/mol",
}


@dataclass(frozen=True)
class Row:
    """One input's part: its value, standard uncertainty and sensitivity, and what comes of them.

    contribution in the unit of the result; share of the variance in percent; dof None where it has
    no limit; source: where the uncertainty is from; shared: alike for all runs of a set.
    """

    input: str
    words: str
    value: float
    unit: str
    u: float
    sensitivity: float
    contribution: float
    share_percent: float
    dof: float | None
    source: str
    shared: bool


@dataclass(frozen=True)
class Budget:
    """A result with its combined and expanded uncertainty at 95 %, the largest part first."""

    value: float
    unit: str
    u: float
    dof: float | None
    k: float
    expanded_u: float
    rows: tuple[Row, ...]
    largest: str

    def as_dict(self) -> dict[str, object]:
        """Plain JSON types."""
        plain = asdict(self)
        return plain | {"rows": list(plain["rows"])}


def run_budgets(inputs: RunInputs, rise: Values, final_c: float) -> dict[str, Budget]:
    """The budgets of all a run gives, by result; none without a rise that has an uncertainty."""
    rise_k, u_k = rise["rise_k"], rise["u_k"]
    if not isinstance(rise_k, float) or not isinstance(u_k, float):
        return {}
    state = State(inputs, rise_k, final_c)
    values = results(state)
    quantities = [q for q in input_quantities(inputs, rise) if q.u > 0]
    moved = [_moved(state, quantity, values) for quantity in quantities]
    return {
        name: _budget(
            value, UNITS[name], [_row(q, by[name]) for q, by in zip(quantities, moved, strict=True)]
        )
        for name, value in values.items()
    }


def _moved(state: State, quantity: InputQuantity, values: Mapping[str, float]) -> dict[str, float]:
    """By how much each result moves when an input rises by its standard uncertainty.

    Where one side cannot be computed (a length below nothing), the other side alone.
    """
    up = results(quantity.change(state, quantity.value + quantity.u)) or values
    down = results(quantity.change(state, quantity.value - quantity.u)) or values
    sides = (up is not values) + (down is not values)
    return {name: (up[name] - down[name]) / max(sides, 1) for name in values}


def _row(quantity: InputQuantity, moved: float) -> Row:
    return Row(
        quantity.name,
        quantity.words,
        quantity.value,
        quantity.unit,
        quantity.u,
        moved / quantity.u,
        abs(moved),
        0.0,
        quantity.dof if isfinite(quantity.dof) else None,
        quantity.source,
        quantity.shared,
    )


def _budget(value: float, unit: str, rows: Sequence[Row]) -> Budget:
    """Combine the parts; what does not move the result is left out."""
    variance = sum(row.contribution**2 for row in rows)
    kept = sorted(
        (
            replace(row, share_percent=100.0 * row.contribution**2 / variance)
            for row in rows
            if row.contribution > 0
        ),
        key=lambda row: -row.contribution,
    )
    u, dof = sqrt(variance), effective_dof([(row.contribution, row.dof) for row in kept])
    k = student_t(dof)
    largest = _ranking(kept[0]) if kept else "Nothing in the budget has an uncertainty."
    return Budget(value, unit, u, dof if isfinite(dof) else None, k, k * u, tuple(kept), largest)


def effective_dof(parts: Sequence[tuple[float, float | None]]) -> float:
    """Welch–Satterthwaite: `ν = u⁴/Σ(u_i⁴/ν_i)` of (contribution, dof), None for no limit."""
    variance = sum(u**2 for u, _ in parts)
    known = sum(u**4 / dof for u, dof in parts if dof is not None)
    return variance**2 / known if known > 0 else inf


def _ranking(row: Row) -> str:
    return f"The largest contribution is {row.words}: {row.share_percent:.0f} % of the variance."


def mean_budget(budgets: Sequence[Budget]) -> Budget:
    """The budget of the mean of replicates' results, from one budget a run.

    What is shared by all runs (certificate, lots) does not average out: its contributions are
    averaged; the others combine as `√(Σu²)/n`. Raises ValueError without budgets.
    """
    if not budgets:
        raise ValueError("No budgets: a mean needs at least one run.")
    n = len(budgets)
    by_input: dict[str, list[Row]] = {}
    for budget in budgets:
        for row in budget.rows:
            by_input.setdefault(row.input, []).append(row)
    mean = sum(budget.value for budget in budgets) / n
    return _budget(mean, budgets[0].unit, [_mean_row(rows, n) for rows in by_input.values()])


def _mean_row(rows: Sequence[Row], n: int) -> Row:
    parts = [row.contribution for row in rows]
    shared = rows[0].shared
    contribution = sum(parts) / n if shared else sqrt(sum(part**2 for part in parts)) / n
    dof = None if shared else effective_dof([(row.contribution, row.dof) for row in rows])
    if shared or dof is None or not isfinite(dof):
        dof = rows[0].dof
    return replace(
        rows[0],
        value=sum(row.value for row in rows) / len(rows),
        u=sqrt(sum(row.u**2 for row in rows) / len(rows)),
        sensitivity=sum(row.sensitivity for row in rows) / len(rows),
        contribution=contribution,
        dof=dof,
    )


def replicates_against_budget(summary: Summary, budget: Budget) -> str | None:
    """A sentence where the scatter of replicates and the budget of their mean disagree, else None.

    `(n − 1)·s²/u²` against the 2.5 and 97.5 % points of χ², u what the budget lets one run vary by:
    the parts that are not shared.
    """
    if summary.s is None or summary.half_width is None:
        return None
    free = summary.n - 1
    varying = sum(row.contribution**2 for row in budget.rows if not row.shared) * summary.n
    ratio = free * summary.s**2 / varying if varying > 0 else inf
    intervals = (
        f"±{summary.half_width:.3g} {budget.unit} from the spread of {summary.n} runs, "
        f"±{budget.expanded_u:.3g} {budget.unit} from the budget"
    )
    if ratio > chi_square(free, 0.975):
        return (
            f"The runs scatter more than the budget explains: {intervals}. Something changes from "
            "run to run that the budget does not hold, such as soot, stirring or spilled water."
        )
    if ratio < chi_square(free, 0.025):
        return (
            f"The runs scatter less than the budget expects: {intervals}. The uncertainties "
            "entered may be too large; the spread of few runs may also be small by chance."
        )
    return None

"""Results as tables to read in a terminal."""

from typing import Any

Row = tuple[str, str, str]

METHOD_WORDS = {
    "fraction": "fraction of the rise, 1 − 1/e",
    "fraction_060": "fraction of the rise, 0.60",
    "fraction_by_hand": "fraction of the rise, by hand",
    "equal_areas": "equal areas",
    "regnault_pfaundler": "Regnault–Pfaundler",
    "heat_balance": "heat-balance fit",
    "difference": "plain difference",
}

BUDGET_WORDS = {
    "heat_capacity": "heat capacity",
    "du": "Δ_cu",
    "dcu": "Δ_cU",
    "dch": "Δ_cH",
    "dfh": "Δ_fH",
}


def rise_report(result: dict[str, Any], why: list[str]) -> str:
    """The corrected rise by each method, with drifts, bounds and notes."""
    rows = [
        ("firing", _number(result["fired_at_s"], ".1f"), "s"),
        ("after period from", _number(result["settled_at_s"], ".1f"), "s"),
        ("fore drift", _per_minute(result["drift"]["fore_k_per_s"]), "mK/min"),
        ("after drift", _per_minute(result["drift"]["after_k_per_s"]), "mK/min"),
    ]
    parts = [_table("Periods", rows), _rises(result["rise"]), *_sentences("Why", why)]
    return "\n\n".join([*parts, *_notes(result["notes"])])


def run_report(result: dict[str, Any]) -> str:
    """Every number of a run, in the order of the working."""
    periods, drift = result["periods"], result["drift"]
    used = result["rise_used"]
    rows = [
        ("firing", _number(periods["fired_at_s"], ".1f"), "s"),
        ("after period from", _number(periods["settled_at_s"], ".1f"), "s"),
        ("fore drift", _per_minute(drift["fore"]["slope_k_per_s"]), "mK/min"),
        ("after drift", _per_minute(drift["after"]["slope_k_per_s"]), "mK/min"),
        ("95 % of the rise after", _number(result["time_to_95_percent_s"], ".0f"), "s"),
    ]
    heats = [(key[:-2], _number(value, ".1f"), "J") for key, value in result["heat"].items()]
    chosen = [(METHOD_WORDS[used["method"]], _number(used["rise_k"], ".4f"), "K")]
    parts = [
        _table(f"{result['kind'].capitalize()} run, periods", rows),
        _rises(result["rise"]),
        _table("Rise used", chosen),
        _table("Heat released", heats),
        _table("Corrections", [_correction(item) for item in result["corrections"]]),
        *_outcome(result),
        *_budgets(result["budget"]),
        *_sentences("Why", periods["why"]),
    ]
    return "\n\n".join([*parts, *_notes(result["notes"])])


def _outcome(result: dict[str, Any]) -> list[str]:
    parts = []
    capacity, combustion = result["heat_capacity"], result["combustion"]
    if capacity:
        rows = [
            ("this run", _number(capacity["j_per_k"], ".1f"), "J/K"),
            ("at nominal water", _number(capacity["at_nominal_water_j_per_k"], ".1f"), "J/K"),
        ]
        parts.append(_table("Heat capacity", rows))
    if combustion:
        rows = [("Δ_cu", _number(combustion["du_j_per_g"], ".1f"), "J/g")]
        for key, symbol in (("dcu", "Δ_cU"), ("dch", "Δ_cH"), ("dfh", "Δ_fH")):
            if f"{key}_kj_per_mol" in combustion:
                rows.append((symbol, _number(combustion[f"{key}_kj_per_mol"], ".2f"), "kJ/mol"))
        parts.append(_table("Heat of combustion", rows))
        parts += [combustion["equation"]] if "equation" in combustion else []
    return parts


def _budgets(budgets: dict[str, dict[str, Any]]) -> list[str]:
    """Expanded uncertainties at 95 %, and what is behind each."""
    rows = [
        (
            BUDGET_WORDS[name],
            f"± {_number(budget['expanded_u'], '.3g')}",
            f"{budget['unit']}   k {budget['k']:.2f}. {budget['largest']}",
        )
        for name, budget in budgets.items()
    ]
    return [_table("Expanded uncertainty, 95 %", rows)] if rows else []


def _rises(rises: dict[str, dict[str, Any]]) -> str:
    rows = []
    for method, value in rises.items():
        at = "" if value.get("at_s") is None else f"at {value['at_s']:.1f} s"
        why = value.get("why") or at
        if value.get("u_k") is not None:
            why = f"u {1000 * value['u_k']:.2g} mK   {why}"
        rows.append((METHOD_WORDS[method], _number(value["rise_k"], ".4f"), f"K   {why}".rstrip()))
    return _table("Corrected rise", rows)


def _correction(item: dict[str, Any]) -> Row:
    state = "applied" if item["applied"] else "not applied"
    return item["name"], _number(item["size_percent"], "+.3f"), f"%   {state}. {item['words']}"


def _notes(notes: list[dict[str, str]]) -> list[str]:
    return _sentences(
        "Notes", [f"{note['severity']}  {note['sentence']} {note['advice']}" for note in notes]
    )


def _sentences(title: str, sentences: list[str]) -> list[str]:
    return ["\n".join([title, *(f"  {sentence}" for sentence in sentences)])] if sentences else []


def _table(title: str, rows: list[Row]) -> str:
    name_width = max(len(row[0]) for row in rows)
    number_width = max(len(row[1]) for row in rows)
    lines = [
        f"  {name:<{name_width}}  {number:>{number_width}} {unit}" for name, number, unit in rows
    ]
    return "\n".join([title, *lines])


def _per_minute(k_per_s: float | None) -> str:
    return _number(None if k_per_s is None else 60000.0 * k_per_s, "+.2f")


def _number(value: float | None, digits: str) -> str:
    return "—" if value is None else format(value, digits).replace("-", "−")

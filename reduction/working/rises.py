"""The corrected rise by the method used, each written the way its textbooks write it."""

from collections.abc import Callable
from typing import Any

from reduction.working.crossings import (
    write_equal_areas,
    write_fraction,
    write_fraction_060,
    write_fraction_by_hand,
)
from reduction.working.curve import Curve, curve_of, fore_line
from reduction.working.expressions import (
    Difference,
    Expression,
    Number,
    Product,
    Quotient,
    Sum,
    Symbol,
    less,
)
from reduction.working.ledger import Ledger
from reduction.working.lines import (
    enter_firing,
    enter_settled,
    found,
    write_line,
    write_on_line,
)
from reduction.working.missing_area import write_missing_area

PART = "rise"
TITLE = "Corrected temperature rise"


def write_rise(ledger: Ledger) -> Symbol | None:
    """The drift lines and the corrected rise; None where the method gave none."""
    periods, readings = ledger.outputs["periods"], ledger.inputs.readings
    used: dict[str, Any] = ledger.outputs["rise_used"]
    curve = curve_of(readings, periods)
    if curve is not None:
        write_line(ledger, "i", curve.fore)
        write_line(ledger, "f", curve.after)
    elif ledger.outputs["drift"]["fore"]["slope_k_per_s"] is not None:
        write_line(ledger, "i", fore_line(readings, periods))
    if used["rise_k"] is None:
        return None
    kept: dict[str, Any] = ledger.outputs["rise"][used["method"]]
    rise = Symbol("dT", "K", used["rise_k"], 6)
    if curve is None or used["method"] == "heat_balance":
        return _write_fitted(ledger, rise, kept)
    expression, remark = METHODS[used["method"]](ledger, curve)
    return ledger.write(PART, TITLE, rise, expression, remark, u=kept.get("u_k"), stated=4)


def _write_fitted(ledger: Ledger, rise: Symbol, kept: dict[str, Any]) -> Symbol:
    remark = (
        "Taken over from the heat-balance fit: the release, the leak k and the temperature the "
        "water tends to are adjusted together until dT/dt = ΔT·p(t) + k·(T_∞ − T) meets all "
        "readings with the least squares. No pocket calculator repeats that; the other methods on "
        "the result page check it."
    )
    return ledger.write(PART, TITLE, rise, None, remark, u=kept.get("u_k"), stated=4)


def _regnault_pfaundler(ledger: Ledger, curve: Curve) -> tuple[Expression, str]:
    fired, settled = enter_firing(ledger), enter_settled(ledger)
    first = write_on_line(ledger, PART, "Fore line at firing", "T_i", "i", fired)
    last = write_on_line(ledger, PART, "After line at the end of main", "T_f", "f", settled)
    middle = ledger.write(
        PART,
        "Middle of the main period",
        Symbol("t_m", "s", None, 3),
        Quotient(Sum((fired, settled)), Number("2")),
    )
    level = write_on_line(ledger, PART, "After line at that moment", "L_f_m", "f", middle)
    area = write_missing_area(ledger, curve, PART)
    mean = ledger.write(
        PART,
        "Mean temperature of the main period",
        Symbol("T_m_mean", "°C", None, 6),
        Difference(level, Quotient(area, Difference(settled, fired))),
        "A straight line has its mean at its middle; the curve lies below it by that area.",
    )
    drift = _write_drift(ledger, mean, less(settled, fired))
    return Difference(Difference(last, first), drift), (
        "Regnault and Pfaundler: the drift is taken to follow the temperature of the water along "
        "a straight line from the one period to the other. Formula from memory."
    )


def _write_drift(ledger: Ledger, mean: Symbol, duration: Expression) -> Symbol:
    fore, after = found(ledger, "g_i"), found(ledger, "g_f")
    cold, warm = found(ledger, "T_i_mean"), found(ledger, "T_f_mean")
    per_kelvin = ledger.write(
        PART,
        "Change of the drift per kelvin",
        Symbol("kappa", "1/s", None, 9),
        Quotient(Difference(after, fore), Difference(warm, cold)),
    )
    rate = ledger.write(
        PART,
        "Mean drift of the main period",
        Symbol("g_m", "K/s", None, 9),
        Sum((fore, Product((per_kelvin, less(mean, cold))))),
    )
    return ledger.write(
        PART,
        "What drift alone would have done",
        Symbol("theta", "K", None, 6),
        Product((rate, duration)),
    )


def _difference(ledger: Ledger, _: Curve) -> tuple[Expression, str]:
    fired, settled = enter_firing(ledger), enter_settled(ledger)
    first = write_on_line(ledger, PART, "Fore line at firing", "T_i", "i", fired)
    last = write_on_line(ledger, PART, "After line at the end of main", "T_f", "f", settled)
    return Difference(
        last, first
    ), "For a jacket that follows the water: no drift is corrected for."


METHODS: dict[str, Callable[[Ledger, Curve], tuple[Expression, str]]] = {
    "regnault_pfaundler": _regnault_pfaundler,
    "fraction": write_fraction,
    "fraction_060": write_fraction_060,
    "fraction_by_hand": write_fraction_by_hand,
    "equal_areas": write_equal_areas,
    "difference": _difference,
}

"""The two drift lines: means, slope, and any temperature read off them."""

from reduction.working.curve import RatingLine
from reduction.working.expressions import (
    Difference,
    Given,
    Product,
    Quotient,
    Square,
    Sum,
    Symbol,
    less,
)
from reduction.working.ledger import Ledger

TIME, TEMPERATURE = Symbol("t"), Symbol("T")
NAMES = {"i": "fore", "f": "after"}
PART = "lines"


def write_line(ledger: Ledger, index: str, line: RatingLine) -> None:
    """Mean time, mean temperature and slope of the fore line (i) or the after line (f)."""
    period = f"{NAMES[index]} period"
    readings = f"{len(line.points)} readings of the {period}"
    count = ledger.enter(f"n_{index}", len(line.points), "", "counted")
    sum_s = ledger.enter(f"sum_t_{index}", line.sum_s, "s", readings)
    sum_c = ledger.enter(f"sum_T_{index}", line.sum_c, "°C", readings)
    mean_s = ledger.write(
        PART,
        f"Mean time of the {period}",
        Symbol(f"t_{index}_mean", "s", line.mean_s, 3),
        Quotient(Given(sum_s, TIME), count),
    )
    mean_c = ledger.write(
        PART,
        f"Mean temperature of the {period}",
        Symbol(f"T_{index}_mean", "°C", line.mean_c, 6),
        Quotient(Given(sum_c, TEMPERATURE), count),
    )
    _write_slope(ledger, index, line, (mean_s, mean_c))


def _write_slope(
    ledger: Ledger, index: str, line: RatingLine, means: tuple[Symbol, Symbol]
) -> None:
    period = f"{NAMES[index]} period"
    readings = f"{len(line.points)} readings of the {period}, about their means"
    since, above = less(TIME, means[0]), less(TEMPERATURE, means[1])
    over = ledger.enter(f"sum_tT_{index}", line.products_k_s, "K s", readings, 6)
    under = ledger.enter(f"sum_tt_{index}", line.spread_s2, "s2", readings, 2)
    kept = ledger.outputs["drift"][NAMES[index]]["slope_k_per_s"]
    ledger.write(
        PART,
        f"Drift of the {period}",
        Symbol(f"g_{index}", "K/s", kept, 9),
        Quotient(Given(over, Product((since, above))), Given(under, Square(since))),
        "The slope of the least-squares line through these readings; it passes through both means.",
    )


def write_on_line(
    ledger: Ledger, part: str, title: str, key: str, index: str, moment: Symbol
) -> Symbol:
    """A temperature on a line: `T̄ + g·(t − t̄)`."""
    mean_s, mean_c, slope = (found(ledger, f"{k}") for k in _names(index))
    reading = Sum((mean_c, Product((slope, less(moment, mean_s)))))
    return ledger.write(part, title, Symbol(key, "°C", None, 6), reading)


def _names(index: str) -> tuple[str, str, str]:
    return f"t_{index}_mean", f"T_{index}_mean", f"g_{index}"


def found(ledger: Ledger, key: str) -> Symbol:
    """What an earlier step found."""
    return next(step.symbol for step in ledger.steps if step.key == key)


def write_difference(
    ledger: Ledger, part: str, title: str, key: str, ends: tuple[Symbol, Symbol]
) -> Symbol:
    """The distance in K between two temperatures."""
    return ledger.write(part, title, Symbol(key, "K", None, 6), Difference(*ends))


def enter_firing(ledger: Ledger) -> Symbol:
    return _enter_bound(ledger, "t_i", "fired_at_s", "the mark")


def enter_settled(ledger: Ledger) -> Symbol:
    return _enter_bound(ledger, "t_f", "settled_at_s", "set by hand")


def _enter_bound(ledger: Ledger, key: str, bound: str, by_hand: str) -> Symbol:
    periods = ledger.outputs["periods"]
    origin = "found from the readings" if bound in periods["found"] else by_hand
    return ledger.enter(key, periods[bound], "s", origin)

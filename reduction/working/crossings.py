"""The methods that read the rise between the two lines at one moment, and how they find it."""

from reduction import rise
from reduction.working.curve import Curve
from reduction.working.expressions import (
    Bracket,
    Difference,
    Expression,
    Logarithm,
    Number,
    Product,
    Quotient,
    Root,
    Square,
    Sum,
    Symbol,
    less,
)
from reduction.working.ledger import Ledger
from reduction.working.lines import (
    enter_firing,
    enter_settled,
    found,
    write_difference,
    write_on_line,
)
from reduction.working.missing_area import write_missing_area

PART = "rise"
Written = tuple[Expression, str]
Pair = tuple[Symbol, Symbol]


def write_fraction(ledger: Ledger, curve: Curve, phi: float = float(rise.PHI)) -> Written:
    """The crossing where the share φ of the rise is reached, all at the same moment."""
    second = next(i for i, share in enumerate(curve.shares) if share <= 1.0 - phi)
    share = ledger.enter("phi", phi, "", "the method", 6)
    before, at = (_near(ledger, number, curve, second + number - 2) for number in (1, 2))
    first_r, second_r = _write_share_left(ledger, 1, before), _write_share_left(ledger, 2, at)
    left = Difference(Number("1"), share)
    if second_r.value is not None and second_r.value > 0.0:
        way: Expression = Quotient(
            Logarithm(Quotient(first_r, left)), Logarithm(Quotient(first_r, second_r))
        )
        how = "Between the two readings the share still missing falls as an exponential."
    else:
        way = Quotient(Difference(first_r, Bracket(left)), Difference(first_r, second_r))
        how = "Between the two readings the share still missing falls along the chord."
    _write_moment(ledger, (before[0], at[0]), way, how)
    return _between_lines(ledger, "Dickinson: the rise is read between the lines at this moment.")


def write_fraction_060(ledger: Ledger, curve: Curve) -> Written:
    return write_fraction(ledger, curve, rise.PHI_FUEL)


def write_fraction_by_hand(ledger: Ledger, curve: Curve) -> Written:
    """The ruler's way: R at the middle of the main period, then φR up the curve."""
    middle_s = (curve.fired_s + curve.settled_s) / 2.0
    apart = curve.after.at(middle_s) - curve.fore.at(middle_s)
    heights = [(c - curve.fore.at(t)) / apart for t, c in curve.main]
    second = next(i for i, height in enumerate(heights) if 1.0 - height <= 1.0 - rise.PHI_HAND)
    share = ledger.enter("phi", rise.PHI_HAND, "", "the method")
    between = _write_middle(ledger)
    before, at = (_near(ledger, number, curve, second + number - 2) for number in (1, 2))
    first_h = _write_height(ledger, 1, before, between)
    second_h = _write_height(ledger, 2, at, between)
    way = Quotient(Difference(share, first_h), Difference(second_h, first_h))
    how = "Along the chord between the two readings, as a ruler draws it."
    _write_moment(ledger, (before[0], at[0]), way, how)
    return _between_lines(ledger, "By hand: one pass, with the distance taken at the middle.")


def write_equal_areas(ledger: Ledger, curve: Curve) -> Written:
    """The moment that makes the areas before and after it equal: a quadratic, lines straight."""
    fired = enter_firing(ledger)
    area = write_missing_area(ledger, curve, PART)
    high = write_on_line(ledger, PART, "After line at firing", "L_f_i", "f", fired)
    low = write_on_line(ledger, PART, "Fore line at firing", "L_i_i", "i", fired)
    apart = write_difference(ledger, PART, "Distance of the lines at firing", "D_i", (high, low))
    bend = Product((Number("2"), less(found(ledger, "g_f"), found(ledger, "g_i")), area))
    root = Root(Sum((Square(apart), bend)))
    under: Expression = Sum((apart, root))
    if apart.value is not None and apart.value < 0.0:
        under = Difference(apart, root)
    ledger.write(
        PART,
        "Moment of equal areas",
        Symbol("t_x", "s", ledger.outputs["rise"]["equal_areas"]["at_s"], 3),
        Sum((fired, Quotient(Product((Number("2"), area)), under))),
        "From firing to this moment the fore line lies as far below the curve, in area, as the "
        "after line lies above it from then on. With straight lines that is a quadratic equation.",
    )
    return _between_lines(ledger, "Equal areas: the rise is read between the lines at this moment.")


def _near(ledger: Ledger, number: int, curve: Curve, index: int) -> Pair:
    """A reading beside the crossing: the first (1) is the last before, the second (2) at or after.

    The ends of the main period are points of the lines, not readings.
    """
    time, temperature = curve.main[index]
    is_reading = 0 < index < len(curve.main) - 1
    origin = "a reading" if is_reading else "the end of the drift line"
    decimals = None if is_reading else 6
    return (
        ledger.enter(f"t_{number}", time, "s", origin),
        ledger.enter(f"T_{number}", temperature, "°C", origin, decimals),
    )


def _write_share_left(ledger: Ledger, number: int, near: Pair) -> Symbol:
    moment, temperature = near
    high, low = (
        write_on_line(
            ledger, PART, f"{words} line at reading {number}", f"L_{index}_{number}", index, moment
        )
        for index, words in (("f", "After"), ("i", "Fore"))
    )
    return ledger.write(
        PART,
        f"Share of the rise still missing at reading {number}",
        Symbol(f"r_{number}", "", None, 6),
        Quotient(Difference(high, temperature), Difference(high, low)),
    )


def _write_height(ledger: Ledger, number: int, near: Pair, between: Symbol) -> Symbol:
    moment, temperature = near
    title = f"Fore line at reading {number}"
    low = write_on_line(ledger, PART, title, f"L_i_{number}", "i", moment)
    return ledger.write(
        PART,
        f"Height of reading {number} above the fore line, as a share",
        Symbol(f"h_{number}", "", None, 6),
        Quotient(Difference(temperature, low), between),
    )


def _write_middle(ledger: Ledger) -> Symbol:
    fired, settled = enter_firing(ledger), enter_settled(ledger)
    middle = ledger.write(
        PART,
        "Middle of the main period",
        Symbol("t_m", "s", None, 3),
        Quotient(Sum((fired, settled)), Number("2")),
    )
    high = write_on_line(ledger, PART, "After line at the middle", "L_f_m", "f", middle)
    low = write_on_line(ledger, PART, "Fore line at the middle", "L_i_m", "i", middle)
    return write_difference(ledger, PART, "Distance of the lines there", "D_m", (high, low))


def _write_moment(ledger: Ledger, times: Pair, way: Expression, how: str) -> None:
    """`t_x = t_1 + (t_2 − t_1)·way` between the two readings."""
    first, second = times
    method = ledger.outputs["rise_used"]["method"]
    ledger.write(
        PART,
        "Moment of the crossing",
        Symbol("t_x", "s", ledger.outputs["rise"][method]["at_s"], 3),
        Sum((first, Product((less(second, first), way)))),
        how,
    )


def _between_lines(ledger: Ledger, remark: str) -> Written:
    moment = found(ledger, "t_x")
    high = write_on_line(ledger, PART, "After line at this moment", "L_f_x", "f", moment)
    low = write_on_line(ledger, PART, "Fore line at this moment", "L_i_x", "i", moment)
    return Difference(high, low), remark

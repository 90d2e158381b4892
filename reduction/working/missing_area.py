"""The area between the after line and the curve, the one integral the methods need."""

from reduction.working.curve import Curve
from reduction.working.expressions import Given, Product, Symbol
from reduction.working.ledger import Ledger


def write_missing_area(ledger: Ledger, curve: Curve, part: str) -> Symbol:
    """`S = Σ d̄·Δt` over the intervals of the main period."""
    intervals = len(curve.main) - 1
    origin = f"{intervals} intervals of the main period"
    area = ledger.enter("sum_dt", curve.missing_k_s, "K s", origin, 4)
    chords = f"{curve.chords_k_s:.3f}".replace("-", "−")
    remark = (
        "From reading to reading; the first point lies on the fore line at firing, the last on the "
        "after line. In a stirred bucket the distance to the after line dies away as an "
        "exponential, so from distance d₁ to d₂ its mean is (d₁ − d₂)/ln(d₁/d₂). It is "
        "(d₁ + d₂)/2 where they hardly differ, where next to nothing is left of one of them, or "
        f"where the curve crosses the line. The plain trapezoid rule gives {chords} K s."
    )
    return ledger.write(
        part,
        "Area between the after line and the curve",
        Symbol("S", "K s", curve.missing_k_s, 4),
        Given(area, Product((Symbol("d_mean"), Symbol("dt")))),
        remark,
    )

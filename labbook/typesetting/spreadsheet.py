"""Formulas as a spreadsheet works them out, with a cell for every quantity."""

from __future__ import annotations

from collections.abc import Callable

from reduction.working.expressions import (
    Bracket,
    Difference,
    Expression,
    Given,
    Logarithm,
    Negative,
    Number,
    Product,
    Quotient,
    Root,
    Square,
    Sum,
    Symbol,
)

CellOf = Callable[[Symbol], str]


def spreadsheet_formula(expression: Expression, cell_of: CellOf) -> str:
    """Without the equals sign. Every part that is itself worked out stands in brackets, for a
    spreadsheet squares −2 to 4 where mathematics writes −2² = −4."""

    def write(part: Expression) -> str:
        return spreadsheet_formula(part, cell_of)

    def closed(part: Expression) -> str:
        is_single = isinstance(part, Symbol | Number | Given | Bracket | Root | Logarithm)
        return write(part) if is_single else f"({write(part)})"

    match expression:
        case Symbol():
            return cell_of(expression)
        case Given(total=total):
            return cell_of(total)
        case Number():
            text = format(expression.shown, "f")
            return f"({text})" if expression.shown < 0 else text
        case Sum(terms=terms):
            return "+".join(map(closed, terms))
        case Difference(left=left, right=right):
            return f"{closed(left)}-{closed(right)}"
        case Product(factors=factors):
            return "*".join(map(closed, factors))
        case Quotient(over=over, under=under):
            return f"{closed(over)}/{closed(under)}"
        case Negative(of=of):
            return f"-{closed(of)}"
        case Bracket(of=of):
            return f"({write(of)})"
        case Square(of=of):
            return f"{closed(of)}^2"
        case Root(of=of):
            return f"SQRT({write(of)})"
        case Logarithm(of=of):
            return f"LN({write(of)})"

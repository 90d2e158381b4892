"""Formulas in words, for the ear, and in plain characters, for a calculator or a script."""

from labbook.typesetting.numbers import spoken_decimal
from labbook.typesetting.units import spoken_unit
from labbook.typesetting.working_symbols import working_symbol
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


def spoken(expression: Expression, *, numbers: bool) -> str:
    """How the formula is read aloud, by the names of its quantities or by their numbers."""

    def say(part: Expression) -> str:
        return spoken(part, numbers=numbers)

    match expression:
        case Symbol() if not numbers:
            return working_symbol(expression.key).words
        case Symbol() | Number():
            return f"{spoken_decimal(expression.shown)} {spoken_unit(expression.unit)}".strip()
        case Given(total=total, of=of):
            return say(total) if numbers else f"the sum over the readings of {say(of)}"
        case Sum(terms=terms):
            return " plus ".join(map(say, terms))
        case Difference(left=left, right=right):
            return f"{say(left)} minus {say(right)}"
        case Product(factors=factors):
            return " times ".join(map(say, factors))
        case Quotient(over=over, under=under):
            return f"the fraction {say(over)} over {say(under)}, end of fraction,"
        case Negative(of=of):
            return f"minus {say(of)}"
        case Bracket(of=of):
            return f"open bracket {say(of)} close bracket"
        case Square(of=of):
            return f"{say(of)} squared"
        case Root(of=of):
            return f"the square root of {say(of)}, end of root,"
        case Logarithm(of=of):
            return f"the natural logarithm of {say(of)}"


def plain(expression: Expression, *, numbers: bool) -> str:
    """The formula on one line, in the signs of a script: `ln`, `sqrt` and `sum` are functions."""

    def write(part: Expression) -> str:
        return plain(part, numbers=numbers)

    def closed(part: Expression) -> str:
        compound = isinstance(part, Sum | Difference | Product | Quotient | Negative)
        return f"({write(part)})" if compound else write(part)

    match expression:
        case Symbol() if not numbers:
            return expression.key
        case Symbol() | Number():
            text = str(expression.shown)
            return f"({text})" if expression.shown < 0 else text
        case Given(total=total, of=of):
            return write(total) if numbers else f"sum({write(of)})"
        case Sum(terms=terms):
            return " + ".join(map(write, terms))
        case Difference(left=left, right=right):
            return f"{write(left)} - {write(right)}"
        case Product(factors=factors):
            return " * ".join(map(closed, factors))
        case Quotient(over=over, under=under):
            return f"{closed(over)} / {closed(under)}"
        case Negative(of=of):
            return f"-{closed(of)}"
        case Bracket(of=of):
            return f"({write(of)})"
        case Square(of=of):
            return f"{closed(of)} ** 2"
        case Root(of=of):
            return f"sqrt({write(of)})"
        case Logarithm(of=of):
            return f"ln({write(of)})"

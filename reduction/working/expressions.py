"""Formulas as small trees: every number in one is the number a reader sees.

A `Symbol` shows its value with as many decimals as it was given; `value_of` works a tree out from
the numbers shown, in decimal arithmetic, as a reader with a calculator does.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, replace
from decimal import ROUND_HALF_EVEN, Context, Decimal, localcontext
from typing import Any, TypeAlias, TypeVar, cast

PRECISION = Context(prec=40, rounding=ROUND_HALF_EVEN)
DIGITS_OF_A_FLOAT = ".15g"


@dataclass(frozen=True)
class Symbol:
    """A quantity. `decimals` None: every digit it was entered with; `value` None: it runs."""

    key: str
    unit: str = ""
    value: float | None = None
    decimals: int | None = None

    @property
    def full(self) -> Decimal:
        """All digits kept."""
        if self.value is None:
            raise ValueError(f"{self.key} stands for each reading in turn and has no one value.")
        return Decimal(format(self.value, DIGITS_OF_A_FLOAT))

    @property
    def shown(self) -> Decimal:
        """The digits a reader sees."""
        if self.decimals is None:
            return self.full
        return self.full.quantize(Decimal(1).scaleb(-self.decimals), context=PRECISION)


@dataclass(frozen=True)
class Number:
    """A number of the formula itself, with the unit it carries when one is converted."""

    text: str
    unit: str = ""

    @property
    def shown(self) -> Decimal:
        return Decimal(self.text)


@dataclass(frozen=True)
class Sum:
    terms: "tuple[Expression, ...]"


@dataclass(frozen=True)
class Difference:
    left: "Expression"
    right: "Expression"


@dataclass(frozen=True)
class Product:
    factors: "tuple[Expression, ...]"


@dataclass(frozen=True)
class Quotient:
    over: "Expression"
    under: "Expression"


@dataclass(frozen=True)
class Negative:
    of: "Expression"


@dataclass(frozen=True)
class Bracket:
    of: "Expression"


@dataclass(frozen=True)
class Square:
    of: "Expression"


@dataclass(frozen=True)
class Root:
    of: "Expression"


@dataclass(frozen=True)
class Logarithm:
    of: "Expression"


@dataclass(frozen=True)
class Given:
    """A sum over readings: its formula is written out, its total is put in as one number."""

    total: Symbol
    of: "Expression"


Expression: TypeAlias = (
    Symbol
    | Number
    | Sum
    | Difference
    | Product
    | Quotient
    | Negative
    | Bracket
    | Square
    | Root
    | Logarithm
    | Given
)
Tree = TypeVar("Tree", bound=Expression)


def value_of(expression: Expression, figure: Callable[[Symbol], Decimal] | None = None) -> Decimal:
    """What the formula gives for the numbers shown, or for those `figure` names for each symbol."""
    with localcontext(PRECISION):
        return _value(expression, figure or (lambda symbol: symbol.shown))


def _value(expression: Expression, figure: Callable[[Symbol], Decimal]) -> Decimal:
    parts = [_value(part, figure) for part in _parts(expression)]
    match expression:
        case Symbol():
            return figure(expression)
        case Number():
            return expression.shown
        case Sum():
            return sum(parts, Decimal(0))
        case Difference():
            return parts[0] - parts[1]
        case Product():
            return _product(parts)
        case Quotient():
            return parts[0] / parts[1]
        case Negative():
            return -parts[0]
        case Square():
            return parts[0] ** 2
        case Root():
            return parts[0].sqrt()
        case Logarithm():
            return parts[0].ln()
        case Bracket() | Given():
            return parts[0]


def _product(factors: list[Decimal]) -> Decimal:
    product = Decimal(1)
    for factor in factors:
        product *= factor
    return product


def _parts(expression: Expression) -> tuple[Expression, ...]:
    """The formulas inside one; of a given sum only its total, which is the number put in."""
    match expression:
        case Symbol() | Number():
            return ()
        case Sum(terms=inside) | Product(factors=inside):
            return inside
        case Difference(left=first, right=second) | Quotient(over=first, under=second):
            return (first, second)
        case Given(total=total):
            return (total,)
        case Negative() | Bracket() | Square() | Root() | Logarithm():
            return (expression.of,)


def quantities_in(expression: Expression) -> Iterator[Symbol | Given]:
    """Every quantity whose number is put in, in the order written."""
    if isinstance(expression, Symbol | Given):
        yield expression
        return
    for part in _parts(expression):
        yield from quantities_in(part)


def symbols_in(expression: Expression) -> Iterator[Symbol]:
    """The symbols of those quantities; of a given sum that of its total."""
    for quantity in quantities_in(expression):
        yield quantity.total if isinstance(quantity, Given) else quantity


def shown_to(expression: Tree, decimals: dict[str, int]) -> Tree:
    """The same formula with its quantities shown to other decimals."""
    if isinstance(expression, Symbol):
        return replace(expression, decimals=decimals.get(expression.key, expression.decimals))
    if isinstance(expression, Number):
        return expression
    changed: dict[str, object] = {}
    for part in fields(expression):
        inside = getattr(expression, part.name)
        if isinstance(inside, tuple):
            changed[part.name] = tuple(shown_to(item, decimals) for item in inside)
        else:
            changed[part.name] = shown_to(inside, decimals)
    return cast(Tree, replace(cast(Any, expression), **changed))


def product(*factors: Expression) -> Expression:
    """A product, or the one factor alone."""
    return factors[0] if len(factors) == 1 else Product(factors)


def total(*terms: Expression) -> Expression:
    """A sum, or the one term alone."""
    return terms[0] if len(terms) == 1 else Sum(terms)


def less(left: Expression, right: Expression) -> Bracket:
    """A difference in brackets, to stand inside a product."""
    return Bracket(Difference(left, right))

"""Formulas as MathML Core: as written with symbols, and with the numbers put in.

Every piece of text is escaped here; what comes back is markup.
"""

from collections.abc import Callable
from decimal import Decimal
from html import escape
from typing import TypeAlias

from labbook.typesetting.numbers import THIN_SPACE, set_decimal
from labbook.typesetting.units import set_unit
from labbook.typesetting.working_symbols import BAR, working_symbol
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

MINUS, TIMES = "\u2212", "×"
UNSEEN_TIMES = '<mo>\u2062</mo><mspace width="0.167em"></mspace>'
SMALLEST_PLAIN = Decimal("0.001")
Leaf: TypeAlias = Callable[[Symbol | Number, bool], str]


class Markup(str):
    """Finished markup, which a template does not escape again."""

    __slots__ = ()

    def __html__(self) -> str:
        return self


def element(name: str, *inside: str, **attributes: str) -> str:
    """An element around markup."""
    written = "".join(
        f' {key.replace("_", "-")}="{escape(text)}"' for key, text in attributes.items()
    )
    return f"<{name}{written}>{''.join(inside)}</{name}>"


def text(name: str, words: str, **attributes: str) -> str:
    """An element around plain text."""
    return element(name, escape(words), **attributes)


def row(*inside: str) -> str:
    return element("mrow", *inside)


def operator(sign: str) -> str:
    return text("mo", sign)


def with_symbols(expression: Expression) -> str:
    """The formula as a handbook prints it."""
    return _set(expression, lambda leaf, alone: _symbolic(leaf), numbers=False)


def with_numbers(expression: Expression) -> str:
    """The same formula with each number and its unit in the place of its symbol."""
    return _set(expression, quantity, numbers=True)


def _symbolic(leaf: Symbol | Number) -> str:
    return symbol(leaf.key) if isinstance(leaf, Symbol) else quantity(leaf)


def symbol(key: str) -> str:
    """A slanted letter, with upright Δ before it and upright indices."""
    known = working_symbol(key)
    letter = text("mi", known.letter.removesuffix(BAR))
    if known.letter.endswith(BAR):
        letter = element("mover", letter, operator("¯"), accent="true")
    if known.index:
        letter = element("msub", letter, text("mtext", known.index))
    if not known.before:
        return letter
    before = text("mi", known.before, mathvariant="normal")
    if known.before_index:
        before = element("msub", before, text("mtext", known.before_index))
    return row(before, letter)


def number(value: Decimal) -> str:
    """Thin spaces between groups, a true minus, a power of ten for what is very small."""
    sign = operator(MINUS) if value < 0 else ""
    size = abs(value)
    if size == 0 or size >= SMALLEST_PLAIN:
        return row(sign, text("mn", set_decimal(size))) if sign else text("mn", set_decimal(size))
    power = element(
        "msup", text("mn", "10"), row(operator(MINUS), text("mn", str(-size.adjusted())))
    )
    figures = size.scaleb(-size.adjusted())
    if figures == 1 and len(figures.as_tuple().digits) == 1:
        return row(sign, power)
    return row(sign, text("mn", set_decimal(figures)), operator(TIMES), power)


def unit(name: str) -> str:
    """A thin space and the upright unit; nothing for a bare number."""
    if not name:
        return ""
    pieces = [text("mtext", THIN_SPACE)]
    for piece, raised in set_unit(name):
        if raised:
            pieces[-1] = element("msup", pieces[-1], text("mn", piece))
        else:
            pieces.append(text("mtext", piece))
    return "".join(pieces)


def quantity(leaf: Symbol | Number, alone: bool = True) -> str:
    """A number with its unit, in brackets where a minus sign would meet another sign."""
    inside = row(number(leaf.shown), unit(leaf.unit))
    return inside if alone or leaf.shown >= 0 else bracketed(inside)


def bracketed(inside: str) -> str:
    return row(operator("("), inside, operator(")"))


def _set(expression: Expression, leaf: Leaf, *, numbers: bool, alone: bool = True) -> str:
    """`alone`: no sign stands right before this, so that a minus needs no brackets."""

    def inner(part: Expression, first: bool = True) -> str:
        return _set(part, leaf, numbers=numbers, alone=first)

    match expression:
        case Symbol() | Number():
            return leaf(expression, alone)
        case Given(total=total, of=of):
            return leaf(total, alone) if numbers else row(operator("∑"), inner(of))
        case Sum(terms=terms):
            parts = (inner(term, alone and not i) for i, term in enumerate(terms))
            return row(operator("+").join(parts))
        case Difference(left=left, right=right):
            return row(inner(left, alone), operator(MINUS), inner(right, False))
        case Product(factors=factors):
            between = operator(TIMES) if numbers else UNSEEN_TIMES
            return row(between.join(inner(f, alone and not i) for i, f in enumerate(factors)))
        case Quotient(over=over, under=under):
            return element("mfrac", inner(over), inner(under))
        case Negative(of=of):
            return row(operator(MINUS), inner(of, False))
        case Bracket(of=of):
            return bracketed(inner(of))
        case Square(of=of):
            return element("msup", inner(of, False), text("mn", "2"))
        case Root(of=of):
            return element("msqrt", inner(of))
        case Logarithm(of=of):
            return row(text("mi", "ln"), bracketed(inner(of)))


def formula(inside: str, words: str) -> Markup:
    """A formula within a line of text."""
    return Markup(element("math", inside, aria_label=words))


def equation(left: str, rights: list[tuple[str, str]], words: str) -> Markup:
    """A quantity and, line under line, each sign with what stands to the right of it."""
    lines = (
        element(
            "mtr",
            element("mtd", left if i == 0 else ""),
            element("mtd", operator(sign)),
            element("mtd", right, displaystyle="true"),
        )
        for i, (sign, right) in enumerate(rights)
    )
    return Markup(element("math", element("mtable", *lines), aria_label=words))


def terms_with_numbers(expression: Expression) -> list[tuple[str, str]]:
    """The formula with its numbers, one term of a sum to a line, each with the sign before it."""
    return [
        (sign if i else "=", _set(term, quantity, numbers=True, alone=i == 0))
        for i, (sign, term) in enumerate(_signed_terms(expression))
    ]


def _signed_terms(expression: Expression) -> list[tuple[str, Expression]]:
    match expression:
        case Sum(terms=terms):
            first = _signed_terms(terms[0])
            return first + [("+", term) for term in terms[1:]]
        case Difference(left=left, right=right):
            return [*_signed_terms(left), (MINUS, right)]
        case _:
            return [("+", expression)]

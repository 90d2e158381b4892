"""A step of a working as it stands on the page: its equation, and what was put into it."""

from dataclasses import dataclass

from labbook.typesetting import mathml
from labbook.typesetting.formulas import plain, spoken
from labbook.typesetting.mathml import Markup
from labbook.typesetting.working_symbols import working_symbol
from reduction.working import Step
from reduction.working.expressions import Given, Symbol, quantities_in

LONGEST_LINE = 32
"""Characters of a sum of numbers that still stand on one line."""


@dataclass(frozen=True)
class PutIn:
    """A number put into a formula, and the step or the source it is from."""

    key: str
    symbol: Markup
    number: Markup
    words: str
    source: str
    step: int | None


@dataclass(frozen=True)
class WrittenStep:
    """A step with its place in the working and its formula as markup."""

    number: int
    step: Step
    equation: Markup
    put_in: list[PutIn]

    @property
    def is_quoted(self) -> bool:
        """Whether the result is one that people quote, rounded by its uncertainty."""
        return self.step.stated_decimals is not None


def written_parts(parts: dict[str, tuple[Step, ...]]) -> list[tuple[str, list[WrittenStep]]]:
    """The parts of a working with their steps written out, numbered through."""
    steps = [step for found in parts.values() for step in found]
    numbers = {step.key: number for number, step in enumerate(steps, start=1)}
    return [(title, [_written(step, numbers) for step in found]) for title, found in parts.items()]


def _written(step: Step, numbers: dict[str, int]) -> WrittenStep:
    return WrittenStep(numbers[step.key], step, _equation(step), _put_in(step, numbers))


def _equation(step: Step) -> Markup:
    """Symbol = formula = numbers = result, with the same said in words."""
    rights: list[tuple[str, str]] = []
    expression = step.expression
    words = [working_symbol(step.key).words]
    if expression is not None:
        rights.append(("=", mathml.with_symbols(expression)))
        words.append(spoken(expression, numbers=False))
        if not isinstance(expression, Symbol | Given):
            is_long = len(plain(expression, numbers=True)) > LONGEST_LINE
            one_line = [("=", mathml.with_numbers(expression))]
            rights += mathml.terms_with_numbers(expression) if is_long else one_line
            words.append(spoken(expression, numbers=True))
    rights.append(("=", mathml.quantity(step.symbol)))
    words.append(spoken(step.symbol, numbers=True))
    return mathml.equation(mathml.symbol(step.key), rights, " equals ".join(words))


def _put_in(step: Step, numbers: dict[str, int]) -> list[PutIn]:
    if step.expression is None:
        return []
    sources = {source.symbol.key: source.words for source in step.sources}
    rows = {_total(quantity).key: quantity for quantity in quantities_in(step.expression)}
    return [_row(row, sources.get(key, ""), numbers.get(key)) for key, row in rows.items()]


def _total(quantity: Symbol | Given) -> Symbol:
    return quantity.total if isinstance(quantity, Given) else quantity


def _row(quantity: Symbol | Given, source: str, number: int | None) -> PutIn:
    symbol = _total(quantity)
    named = spoken(quantity, numbers=False)
    return PutIn(
        symbol.key,
        mathml.formula(mathml.with_symbols(quantity), named),
        mathml.formula(mathml.quantity(symbol), spoken(symbol, numbers=True)),
        "" if isinstance(quantity, Given) else named,
        source,
        None if source else number,
    )

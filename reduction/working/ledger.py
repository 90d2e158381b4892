"""Steps of a working as they are written down, and the digits each needs so that all close."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import partial
from typing import Any

from reduction.inputs import RunInputs
from reduction.sources import Constant
from reduction.working.expressions import (
    PRECISION,
    Expression,
    Symbol,
    shown_to,
    symbols_in,
    value_of,
)

ROUNDS = 200
SAME = Decimal("1e-9")


@dataclass(frozen=True)
class Source:
    """Where a number put in comes from."""

    symbol: Symbol
    words: str


@dataclass(frozen=True)
class Step:
    """One line of the working: what is found, by which formula, with which numbers.

    `symbol` holds the kept result with all its digits and the decimals shown. `expression` is None
    where a number is taken over as it is, and `remark` says from where. `u` is the standard
    uncertainty of a result people quote and `stated_decimals` its digits while there is none;
    both are None for what is only met on the way.
    """

    key: str
    part: str
    title: str
    symbol: Symbol
    expression: Expression | None
    sources: tuple[Source, ...] = ()
    remark: str = ""
    u: float | None = None
    stated_decimals: int | None = None

    @property
    def result(self) -> float:
        """The kept result, all digits."""
        value = self.symbol.value
        return float(self.symbol.full) if value is None else value

    @property
    def unit(self) -> str:
        return self.symbol.unit

    @property
    def shown_decimals(self) -> int:
        return self.symbol.decimals or 0

    @property
    def worked_out(self) -> Decimal | None:
        """What the numbers shown give, to the decimals shown; None where they give nothing."""
        if self.expression is None:
            return self.symbol.shown
        place = Decimal(1).scaleb(-self.shown_decimals)
        try:
            return value_of(self.expression).quantize(place, context=PRECISION)
        except ArithmeticError:  # a small divisor that still shows as zero
            return None

    @property
    def closes(self) -> bool:
        """Whether the numbers shown give the result shown, to its last digit."""
        return self.worked_out == self.symbol.shown


@dataclass
class Ledger:
    """The steps so far and where each number entered comes from."""

    inputs: RunInputs
    outputs: dict[str, Any]
    steps: list[Step] = field(default_factory=list)
    origins: dict[str, str] = field(default_factory=dict)

    def enter(
        self, key: str, value: float, unit: str, origin: str, decimals: int | None = None
    ) -> Symbol:
        """A number that comes from outside the working, shown as entered or to `decimals`."""
        self.origins[key] = origin
        return Symbol(key, unit.replace("³", "3"), float(value), decimals)

    def constant(self, key: str, constant: Constant) -> Symbol:
        """A constant, with the value and the source it had when the result was kept."""
        for kept in self.outputs["constants"]:
            if kept["name"] == constant.name:
                return self.enter(key, kept["value"], kept["unit"], kept["source"])
        return self.enter(key, constant.value, constant.unit, constant.source)

    def origin_of(self, name: str, otherwise: str) -> str:
        """The source kept with the result for a value of a lot or a certificate."""
        named = (kept for kept in self.outputs["constants"] if kept["name"] == name)
        return next((kept["source"] for kept in named), otherwise)

    def write(
        self,
        part: str,
        title: str,
        found: Symbol,
        expression: Expression | None,
        remark: str = "",
        *,
        u: float | None = None,
        stated: int | None = None,
    ) -> Symbol:
        """Write a step down; a symbol without a value gets what its formula gives."""
        if found.value is None and expression is not None:
            found = replace(found, value=float(value_of(expression, lambda symbol: symbol.full)))
        inside = () if expression is None else tuple(symbols_in(expression))
        once = {symbol.key: symbol for symbol in inside if symbol.key in self.origins}
        sources = tuple(Source(symbol, self.origins[key]) for key, symbol in once.items())
        step = Step(found.key, part, title, found, expression, sources, remark, u, stated)
        self.steps.append(step)
        return found


def closed(steps: Sequence[Step]) -> tuple[Step, ...]:
    """The steps with digits enough that each is reproduced from the numbers it shows.

    From the last step to the first, a step that does not close carries the number that spoils it
    most one decimal further.
    """
    decimals = {step.key: step.shown_decimals for step in steps}
    entered = (source.symbol for step in steps for source in step.sources)
    decimals |= {s.key: s.decimals for s in entered if s.decimals is not None}
    for _ in range(ROUNDS):
        moved = [_carry_further(step, decimals) for step in reversed(steps)]
        if not any(moved):
            break
    return tuple(_with_decimals(step, decimals) for step in steps)


def _carry_further(step: Step, decimals: dict[str, int]) -> bool:
    """Give a step one more decimal where it needs it; whether it did.

    A kept result that all digits do not give either cannot be mended by showing more of them.
    """
    shown = _with_decimals(step, decimals)
    if shown.expression is None or shown.closes or not _is_reproduced(shown, shown.expression):
        return False
    inside = {symbol.key: symbol for symbol in symbols_in(shown.expression)}
    rounded = [key for key, symbol in inside.items() if symbol.shown != symbol.full]
    growing = max(rounded, key=partial(_effect, shown.expression), default=step.key)
    decimals[growing] += 1
    return True


def _is_reproduced(step: Step, expression: Expression) -> bool:
    """Whether all digits kept give the result, but for the rounding of floating point."""
    found, kept = value_of(expression, lambda symbol: symbol.full), step.symbol.full
    return abs(found - kept) <= SAME * max(abs(kept), Decimal(1).scaleb(-step.shown_decimals))


def _effect(expression: Expression, key: str) -> Decimal:
    """What rounding one number does to the result."""
    try:
        exact = value_of(expression, lambda s: s.full if s.key == key else s.shown)
        return abs(exact - value_of(expression))
    except ArithmeticError:  # a small divisor that still shows as zero
        return Decimal("Infinity")


def _with_decimals(step: Step, decimals: dict[str, int]) -> Step:
    return replace(
        step,
        symbol=shown_to(step.symbol, decimals),
        expression=None if step.expression is None else shown_to(step.expression, decimals),
        sources=tuple(
            replace(source, symbol=shown_to(source.symbol, decimals)) for source in step.sources
        ),
    )

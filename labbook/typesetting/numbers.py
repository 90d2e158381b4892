"""Numbers as a well-set handbook prints them, and as they are read aloud."""

from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal, InvalidOperation
from numbers import Integral
from typing import TypeAlias

from reduction.digits import last_place

MINUS = "\u2212"
THIN_SPACE = "\u202f"  # narrow and unbreakable
FIGURE_SPACE = "\u2007"
POINT_SPACE = "\u2008"
MISSING = "\u2013"
SMALLEST_PLAIN = Decimal("0.0001")
LONGEST_EXPONENT = 30
Number: TypeAlias = Decimal | float | int | str


@dataclass(frozen=True)
class Figures:
    """A number, its uncertainty on the same decimals, and a power of ten taken out of both."""

    value: Decimal
    u: Decimal | None = None
    power: int = 0


def as_decimal(value: Number | None) -> Decimal | None:
    """The number as written; None for what is missing or is not a finite number.

    A float goes by its shortest text, so 0.1 is 0.1. Exponents no laboratory needs count as
    missing: written out they would fill the page with zeros.
    """
    if value is None or isinstance(value, bool):
        return None
    try:
        number = value if isinstance(value, Decimal) else Decimal(_plain_text(value))
    except InvalidOperation:
        return None
    fits = number.is_finite() and abs(number.adjusted()) <= LONGEST_EXPONENT
    return number if fits else None


def _plain_text(value: float | int | str) -> str:
    if isinstance(value, str):
        return value.strip()
    return str(int(value)) if isinstance(value, Integral) else repr(float(value))


def round_to(value: Decimal, exponent: int) -> Decimal:
    """To a multiple of 10**exponent, exponents above zero written out in full."""
    rounded = value.quantize(Decimal(1).scaleb(exponent), rounding=ROUND_HALF_EVEN)
    return rounded if exponent <= 0 else rounded.quantize(Decimal(1))


def figures(
    value: Number | None, u: Number | None = None, decimals: int | None = None
) -> Figures | None:
    """Round value by u where there is one, else to `decimals`, else leave it as it is."""
    number = as_decimal(value)
    if number is None:
        return None
    spread = as_decimal(u)
    if spread is not None and spread > 0:
        power = _power_of_ten(number, spread)
        place = last_place(spread.scaleb(-power))
        return Figures(
            round_to(number.scaleb(-power), place),
            round_to(spread.scaleb(-power), place),
            power,
        )
    if decimals is not None:
        return Figures(round_to(number, -decimals))
    power = _power_of_ten(number, number)
    return Figures(number.scaleb(-power), None, power)


def _power_of_ten(number: Decimal, finest: Decimal) -> int:
    """Zero unless plain decimals would begin with a row of zeros."""
    largest = max(abs(number), abs(finest))
    return largest.adjusted() if 0 < largest < SMALLEST_PLAIN else 0


def set_decimal(number: Decimal, *, signed: bool = False) -> str:
    """True minus, and thin spaces between groups of three from five digits on."""
    whole, _, fraction = format(abs(number), "f").partition(".")
    text = _group_left(whole) + ("." + _group_right(fraction) if fraction else "")
    return _sign(number, signed) + text


def _sign(number: Decimal, signed: bool) -> str:
    if number == 0:
        return ""
    return MINUS if number < 0 else "+" if signed else ""


def _group_left(digits: str) -> str:
    if len(digits) < 5:
        return digits
    head = len(digits) % 3
    groups = [digits[:head]] if head else []
    return THIN_SPACE.join(groups + [digits[i : i + 3] for i in range(head, len(digits), 3)])


def _group_right(digits: str) -> str:
    if len(digits) < 5:
        return digits
    return THIN_SPACE.join(digits[i : i + 3] for i in range(0, len(digits), 3))


def set_points(number: Decimal) -> str:
    """Points as they are spoken of: 1.5 and 20, without zeros at the end."""
    return set_decimal(number.normalize())


def places(number: Decimal) -> int:
    return len(format(number, "f").partition(".")[2])


def set_aligned(number: Decimal, decimals: int) -> str:
    """Set, then padded as if it had `decimals`, so that points line up in a right-hand column."""
    text = set_decimal(number)
    missing = decimals - places(number)
    if missing <= 0:
        return text
    gap = "" if places(number) else POINT_SPACE
    return text + gap + FIGURE_SPACE * missing


def spoken_decimal(number: Decimal) -> str:
    return ("minus " if number < 0 else "") + format(abs(number), "f")


def set_moment(seconds: Decimal) -> str:
    """Minutes and seconds, 5:45 or 1:02:05, tenths only where there are some."""
    tenths = round_to(abs(seconds), -1)
    minutes, rest = divmod(tenths, 60)
    hours, minutes = divmod(minutes, 60)
    clock = f"{rest:04.1f}".removesuffix(".0").zfill(2)
    head = f"{int(hours)}:{int(minutes):02d}" if hours else f"{int(minutes)}"
    return (MINUS if seconds < 0 and tenths else "") + f"{head}:{clock}"

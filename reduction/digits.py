"""How many digits of a value its uncertainty bears."""

from decimal import ROUND_HALF_EVEN, Decimal, InvalidOperation

from reduction.errors import InputError
from reduction.notes import NOTE, Note


def last_place(u: Decimal) -> int:
    """The exponent of the last digit worth writing for an uncertainty u > 0.

    Two digits where u begins with 1 or 2, where one would round by up to a third; else one (common
    practice, no source).
    """
    return u.adjusted() - 1 if u.as_tuple().digits[0] in (1, 2) else u.adjusted()


def stated(value: float | Decimal, u: float | Decimal) -> str:
    """Value and uncertainty rounded alike: `−5150 ± 20`. Raises InputError unless u > 0."""
    number, spread = _decimal(value), _decimal(u)
    if not spread > 0:
        raise InputError("u", f"{u} cannot be used; expected an uncertainty above 0.")
    place = last_place(_rounded(spread, last_place(spread)))
    return f"{_rounded(number, place):f} ± {_rounded(spread, place):f}".replace("-", "−")


def digits_note(written: str, u: float, unit: str = "") -> Note | None:
    """A value written with more digits than its uncertainty bears, with what to write instead.

    `written` is the figure as typed, point or comma. Raises InputError for what is no number.
    """
    number = _decimal(written.strip().replace("−", "-").replace(",", "."))
    spread = _decimal(u)
    advice = f"{stated(number, spread)} {unit}".strip()
    typed = number.as_tuple().exponent
    if not isinstance(typed, int) or typed >= last_place(spread):
        return None
    return Note(
        "too_many_digits",
        NOTE,
        f"Write {advice}, not {written.strip().replace('-', '−')}.",
        "Digits beyond the uncertainty say nothing; round both at the same place.",
    )


def _rounded(number: Decimal, place: int) -> Decimal:
    """To a multiple of 10**place, written out in full."""
    rounded = number.quantize(Decimal(1).scaleb(place), rounding=ROUND_HALF_EVEN)
    return rounded if place <= 0 else rounded.quantize(Decimal(1))


def _decimal(value: float | Decimal | str) -> Decimal:
    try:
        number = value if isinstance(value, Decimal) else Decimal(str(value))
    except InvalidOperation:
        raise InputError("value", f"{value!r} is not a number; expected a plain figure.") from None
    if not number.is_finite():
        raise InputError("value", f"{value!r} is not a number; expected a plain figure.")
    return number

"""Units as set and as read aloud."""

import re

from labbook.typesetting.numbers import THIN_SPACE

# one, several
SPOKEN = {
    "J": ("joule", "joules"),
    "kJ": ("kilojoule", "kilojoules"),
    "MJ": ("megajoule", "megajoules"),
    "cal": ("calorie", "calories"),
    "kcal": ("kilocalorie", "kilocalories"),
    "K": ("kelvin", "kelvins"),
    "mK": ("millikelvin", "millikelvins"),
    "µK": ("microkelvin", "microkelvins"),
    "°C": ("degree Celsius", "degrees Celsius"),
    "°F": ("degree Fahrenheit", "degrees Fahrenheit"),
    "g": ("gram", "grams"),
    "mg": ("milligram", "milligrams"),
    "kg": ("kilogram", "kilograms"),
    "mol": ("mole", "moles"),
    "mmol": ("millimole", "millimoles"),
    "L": ("litre", "litres"),
    "mL": ("millilitre", "millilitres"),
    "mm": ("millimetre", "millimetres"),
    "cm": ("centimetre", "centimetres"),
    "cm3": ("cubic centimetre", "cubic centimetres"),
    "m3": ("cubic metre", "cubic metres"),
    "s": ("second", "seconds"),
    "min": ("minute", "minutes"),
    "h": ("hour", "hours"),
    "atm": ("atmosphere", "atmospheres"),
    "bar": ("bar", "bar"),
    "MPa": ("megapascal", "megapascals"),
    "kPa": ("kilopascal", "kilopascals"),
    "mV": ("millivolt", "millivolts"),
    "V": ("volt", "volts"),
    "Ω": ("ohm", "ohms"),
    "%": ("per cent", "per cent"),
}
_EXPONENT = re.compile(r"(?<=[A-Za-z])(-?\d+)")


def set_unit(unit: str) -> list[tuple[str, bool]]:
    """Pieces of the unit, each with whether it stands raised: cm3 -> ("cm", no), ("3", yes)."""
    text = unit.replace(" ", THIN_SPACE)
    pieces = _EXPONENT.split(text)
    return [
        (piece.replace("-", "\u2212") if raised else piece, raised)
        for piece, raised in zip(pieces, [False, True] * len(pieces), strict=False)
        if piece
    ]


def spoken_unit(unit: str) -> str:
    """J/(kg K) -> "joules per kilogram kelvin"; a unit unknown here is read as written."""
    over, _, under = unit.partition("/")
    words = _spoken_product(over, several=True) if over else ""
    if not under:
        return words
    return f"{words} per {_spoken_product(under.strip('()'), several=False)}".strip()


def _spoken_product(units: str, *, several: bool) -> str:
    *first, last = units.split()
    words = [SPOKEN.get(name, (name, name))[0] for name in first]
    return " ".join([*words, SPOKEN.get(last, (last, last))[several]])

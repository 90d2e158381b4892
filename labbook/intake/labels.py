"""Column names: which quantity a name speaks of, and in which unit."""

import re
from dataclasses import dataclass
from typing import Literal

Quantity = Literal["time", "temperature", "other", ""]

TIME_UNITS = {
    "ms": "ms msec msecs millisecond milliseconds millis",
    "s": "s sec secs second seconds sek sekunde sekunden",
    "min": "min mins minute minutes minuten",
    "h": "h hr hrs hour hours std stunden",
    "days": "d day days",
    "hh:mm:ss": "hh:mm:ss h:mm:ss h:m:s h:min:s hhh:mm:ss",
    "mm:ss": "mm:ss m:ss min:s min:sec",
    "hh:mm": "hh:mm h:mm h:min",
}
TEMPERATURE_UNITS = {
    "°C": "°c ℃ c degc celsius deg_c ºc oc",
    "°F": "°f ℉ f degf fahrenheit deg_f ºf",
    "K": "k kelvin",
}
OTHER_UNITS = (
    "mv v µv uv volt volts ohm ohms Ω kohm kΩ mohm counts count cts adc digits "
    "% %rh bar mbar kpa mpa pa atm psi rpm ma a mg g kg ml mk mw w j °c/min k/s k/min hpa"
)
TIME_WORDS = "time zeit elapsed timestamp datetime date datum heure hora tiempo fecha uhrzeit clock"
OTHER_WORDS = (
    "index no nr num number n record rec row sample scan count counts id line battery batt "
    "humidity rh pressure druck status flag event stirrer rpm voltage volt resistance "
    "widerstand ohm power current dt rate slope"
)
SPELLED = {
    **{word: ("time", unit) for unit, words in TIME_UNITS.items() for word in words.split()},
    **{
        word: ("temperature", unit)
        for unit, words in TEMPERATURE_UNITS.items()
        for word in words.split()
    },
    **{word: ("other", word) for word in OTHER_UNITS.lower().split()},
}
_BRACKETED = re.compile(r"[(\[{]\s*([^()\[\]{}]*?)\s*[)\]}]")
_AFTER_MARK = re.compile(r"(?:\s*[/,]\s*|\s+in\s+|\s+|_)([^\s/,_]+|deg[ _][cCfF])\s*$")


@dataclass(frozen=True)
class Label:
    """A column's name as it stands, the quantity it names and the unit it states ("" if none)."""

    name: str
    quantity: Quantity
    unit: str


def read_label(name: str, unit_cell: str = "") -> Label:
    """Understand a column name, helped by the cell of a units row below it.

    >>> read_label("T / °C")
    Label(name='T / °C', quantity='temperature', unit='°C')
    >>> read_label("elapsed", "min")
    Label(name='elapsed', quantity='time', unit='min')
    """
    by_word = _quantity_of_words(name)
    for said in (unit_cell, *_BRACKETED.findall(name)):
        stated = unit_of(said)
        # "Temp (min)" is a minimum.
        if stated and (by_word, stated[1]) != ("temperature", "min"):
            return Label(name, *stated)
    for said in (name, *_AFTER_MARK.findall(name)):
        stated = unit_of(said)
        if stated and (by_word in ("", stated[0]) or stated[0] == "other"):
            return Label(name, *stated)
    return Label(name, by_word, "")


def unit_of(text: str) -> tuple[Quantity, str] | None:
    """The quantity and unit a piece of text stands for, if it is nothing but a unit."""
    word = text.strip().strip("()[]{}").strip()
    if word in ("c", "f", "k"):  # lower case, these are more often something else
        return None
    found = SPELLED.get(re.sub(r"^(?:deg|degrees|°|º)[ _.]*(?=[cfCF]$)", "°", word).lower())
    if not found and word.lower() in ("deg c", "degrees c", "deg. c"):
        found = ("temperature", "°C")
    return _as_stated(found, word) if found else None


def _as_stated(found: tuple[str, str], word: str) -> tuple[Quantity, str]:
    quantity, unit = found
    if quantity == "time":
        return "time", unit
    if quantity == "temperature":
        return "temperature", unit
    return "other", word


def _quantity_of_words(name: str) -> Quantity:
    words = re.findall(r"[^\W\d_]+", re.sub(r"[(\[{].*", "", name))
    lower = [word.lower() for word in words]
    if any(word in TIME_WORDS.split() for word in lower):
        return "time"
    if any(_names_temperature(word) for word in words):
        return "temperature"
    if any(word in OTHER_WORDS.split() for word in lower) or name.strip() == "#":
        return "other"
    return "time" if words[:1] == ["t"] else ""


def names_a_clock(name: str) -> bool:
    """Whether a column's name says that its times are of the day, not since a start.

    >>> names_a_clock("Clock time"), names_a_clock("Elapsed time")
    (True, False)
    """
    return bool(re.search(r"\bclock\b|\bof (?:the )?day\b|\buhrzeit\b", name.lower()))


def _names_temperature(word: str) -> bool:
    # "temps" is time in French, "tempo" in Italian: only their units can tell.
    if word.lower() in ("temps", "tempo"):
        return False
    return word in ("T", "theta", "Theta", "θ", "ϑ") or word.lower().startswith(("temp", "tmp"))

"""The readings of a device's post, each read by itself: a bad one never spoils the others."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from .figures import Ambiguous, NotANumber, read_figure
from .units import to_celsius

LARGEST_NUMBER = 2**53
LONGEST_CLOCK, LARGEST_CLOCK_S = 40, 1e12
UNITS = {"°C": "°C", "degC": "°C", "°F": "°F", "degF": "°F", "K": "K"}
EXPECTED_CLOCK = "an ISO 8601 moment with its zone, or seconds as a number"


@dataclass(frozen=True)
class Left:
    """A reading that was not taken: its number where it has one, and why."""

    seq: Any
    code: str
    why: str


@dataclass(frozen=True)
class DeviceReading:
    """One reading: value and clock also as they were sent, to the last digit."""

    seq: int
    clock_s: float
    clock: str
    value: str
    unit: str
    celsius: Decimal

    @property
    def temperature(self) -> str:
        """In °C: as it was sent where that was the unit, otherwise one digit more than sent."""
        if self.unit == "°C":
            return self.value
        exponent = self.celsius.as_tuple().exponent if self.unit == "K" else self._one_more()
        return f"{round(self.celsius, -int(exponent)):f}"

    def _one_more(self) -> int:
        return min(0, int(read_figure(self.value).value.as_tuple().exponent)) - 1


class Unreadable(ValueError):
    """What was sent is not what was expected; the text says both."""


def read_clock(sent: Any) -> tuple[float, bool]:
    """A device's clock in seconds, and whether it shows the time of day.

    >>> read_clock("1970-01-01T00:01:00.5+00:00"), read_clock(12.5)
    ((60.5, True), (12.5, False))
    """
    if len(str(sent)) > LONGEST_CLOCK:
        raise Unreadable(f"{_shown(sent)} is too long for a clock; expected {EXPECTED_CLOCK}.")
    if isinstance(sent, str):
        return _moment(sent), True
    if isinstance(sent, bool) or not isinstance(sent, int | float | Decimal):
        raise Unreadable(f"{_shown(sent)} was sent as the clock; expected {EXPECTED_CLOCK}.")
    seconds = float(sent)
    if not abs(seconds) < LARGEST_CLOCK_S:
        raise Unreadable(f"{_shown(sent)} is no number of seconds a clock could show.")
    return seconds, False


def _moment(sent: str) -> float:
    try:
        moment = datetime.fromisoformat(sent)
        if moment.tzinfo is not None:
            return (moment - datetime(1970, 1, 1, tzinfo=UTC)).total_seconds()
    except (ValueError, OverflowError) as error:
        raise Unreadable(f"{_shown(sent)} is not {EXPECTED_CLOCK}.") from error
    raise Unreadable(f"{_shown(sent)} names no zone; expected one such as +00:00 at its end.")


def read_readings(
    sent: Iterable[Any], *, by_time_of_day: bool
) -> tuple[list[DeviceReading], list[Left]]:
    """Those that can be read, by number, and those that cannot, each with its reason."""
    found: list[DeviceReading] = []
    left: list[Left] = []
    for item in sent:
        try:
            found.append(_reading(item, by_time_of_day))
        except Unreadable as error:
            seq = item.get("seq") if isinstance(item, dict) else None
            left.append(Left(seq if isinstance(seq, int) else None, "unreadable", str(error)))
    return sorted(found, key=lambda reading: reading.seq), left


def _reading(item: Any, by_time_of_day: bool) -> DeviceReading:
    if not isinstance(item, dict):
        raise Unreadable(f"{_shown(item)} was sent; expected seq, clock, value and unit.")
    missing = [name for name in ("seq", "clock", "value", "unit") if item.get(name) is None]
    if missing:
        raise Unreadable(f"Without {' and '.join(missing)} a reading is not kept.")
    seq, unit = item["seq"], item["unit"]
    if isinstance(seq, bool) or not isinstance(seq, int) or not 0 <= seq < LARGEST_NUMBER:
        raise Unreadable(f"{_shown(seq)} is no sequence number; expected 0, 1, 2 …")
    if not isinstance(unit, str) or unit not in UNITS:
        raise Unreadable(f"{_shown(unit)} is no unit known here; expected one of {_names()}.")
    clock_s, is_time_of_day = read_clock(item["clock"])
    if is_time_of_day != by_time_of_day:
        raise Unreadable("The reading's clock is of another kind than sent_at; send both alike.")
    value, figure = _figure(item["value"])
    celsius = to_celsius(figure, UNITS[unit])
    return DeviceReading(seq, clock_s, str(item["clock"]), value, UNITS[unit], celsius)


def _figure(sent: Any) -> tuple[str, Decimal]:
    """A value's own digits and what they are worth."""
    if isinstance(sent, bool) or not isinstance(sent, int | float | Decimal | str):
        raise Unreadable(f"{_shown(sent)} is no value; expected a number such as 23.1042.")
    if not isinstance(sent, str):
        sent = _written_out(Decimal(str(sent)))
    try:
        return sent.strip(), read_figure(sent).value
    except (Ambiguous, NotANumber) as error:
        raise Unreadable(str(error)) from error


def _written_out(value: Decimal) -> str:
    """A JSON number without an exponent, with the decimals it was sent with."""
    if not value.is_finite() or not -20 <= int(value.as_tuple().exponent) <= 0 or abs(value) > 1e9:
        raise Unreadable(f"{_shown(value)} is no value; expected a number such as 23.1042.")
    return f"{value:f}"


def _names() -> str:
    return ", ".join(UNITS)


def _shown(sent: Any) -> str:
    text = str(sent)
    return f"“{text[:40]}…”" if len(text) > 40 else f"“{text}”"

"""Times in files: clocks, dates and instants as exact seconds, whatever their spelling."""

import datetime as dt
import re
from decimal import Decimal
from functools import lru_cache

# Unix seconds from 2001 to 2049, and spreadsheet days from 1954 to 2064.
EPOCH_S = (Decimal(1_000_000_000), Decimal(2_500_000_000))
SERIAL_DAYS = (Decimal(20_000), Decimal(60_000))
SERIAL_DAY_ZERO = dt.date(1899, 12, 30).toordinal()
UNIX_DAY_ZERO = dt.date(1970, 1, 1).toordinal()
DAY = 86_400
_MONTH_NAMES = "jan,feb,mar mär mrz,apr,may mai,jun,jul,aug,sep,oct okt,nov,dec dez"
MONTHS = {
    name: number
    for number, names in enumerate(_MONTH_NAMES.split(","), 1)
    for name in names.split()
}

_TIME = (
    r"(?P<a>\d{1,4}):(?P<b>\d{1,2})(?::(?P<c>\d{1,2}))?(?:[.,](?P<f>\d{1,9}))?"
    r"(?:\s*(?P<half>[ap])\.?m\.?)?"
)
_ZONE = r"(?:\s*(?P<zone>z|utc|gmt|[+-]\d{2}(?::?\d{2})?))?"
_DATE = (
    r"\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}(?P<dash>[-/.])\d{1,2}(?P=dash)(?:\d{4}|\d{2})"
    r"|\d{1,2}[-\s./]+[a-zä]{3,9}\.?[-\s./,]+\d{4}|[a-z]{3,9}\.?\s+\d{1,2},?\s+\d{4}"
)
_BASIC_DATE = r"(?:19|20)\d{2}(?:0[1-9]|1[0-2])(?:0[1-9]|[12]\d|3[01])"
_BASIC_TIME = r"([01]\d|2[0-3])([0-5]\d)([0-5]\d)"
CLOCK = re.compile(rf"(?P<sign>[+-])?{_TIME}", re.I | re.ASCII)
DATE = re.compile(rf"{_DATE}|{_BASIC_DATE}", re.I)
INSTANT = re.compile(rf"(?P<date>{_DATE}|{_BASIC_DATE})(?:t|[\s_,]+){_TIME}{_ZONE}", re.I)
BASIC_INSTANT = re.compile(
    rf"({_BASIC_DATE})(?:t|[\s_-])?{_BASIC_TIME}(?:[.,](\d{{1,9}}))?{_ZONE}", re.I | re.ASCII
)
_YEAR_FIRST = re.compile(r"(\d{4})[-/.]?(\d{1,2})[-/.]?(\d{1,2})", re.ASCII)
_YEAR_LAST = re.compile(r"(\d{1,2})([-/.])(\d{1,2})\2(\d{4}|\d{2})", re.ASCII)
_DAY_NAME = re.compile(r"(\d{1,2})[-\s./]+([a-zä]{3,9})\.?[-\s./,]+(\d{4})", re.I)
_NAME_DAY = re.compile(r"([a-z]{3,9})\.?\s+(\d{1,2}),?\s+(\d{4})", re.I)


def clock_seconds(cell: str, two_parts: str) -> Decimal | None:
    """Seconds of a clock cell; `two_parts` says what a:b means, "hh:mm" or "mm:ss".

    >>> clock_seconds("1:02:03,5", "hh:mm")
    Decimal('3723.5')
    """
    found = CLOCK.fullmatch(cell)
    if not found:
        return None
    value = _time_of(found, two_parts)
    return -value if value is not None and found["sign"] == "-" else value


def _time_of(found: re.Match[str], two_parts: str) -> Decimal | None:
    first, second, third = int(found["a"]), int(found["b"]), found["c"]
    if third is not None:
        hours, minutes, seconds = first, second, int(third)
    elif two_parts == "mm:ss":
        hours, minutes, seconds = 0, first, second
    elif found["f"]:
        return None
    else:
        hours, minutes, seconds = first, second, 0
    if seconds > 59 or (minutes > 59 and (third is not None or two_parts == "hh:mm")):
        return None
    if found["half"]:
        if not 1 <= hours <= 12:
            return None
        hours = hours % 12 + (12 if found["half"].lower() == "p" else 0)
    whole = hours * 3600 + minutes * 60 + seconds
    return Decimal(f"{whole}.{found['f']}") if found["f"] else Decimal(whole)


@lru_cache(maxsize=4096)
def day_number(text: str, day_first: bool | None) -> int | None:
    """The date's proleptic day number, or None if it is no date under that order."""
    parts = date_parts(text, day_first)
    if parts is None or not 1970 <= parts[0] <= 2099:
        return None
    try:
        return dt.date(*parts).toordinal()
    except ValueError:
        return None


def date_parts(text: str, day_first: bool | None) -> tuple[int, int, int] | None:
    """Year, month and day. Dates with dots are day first wherever they are in use (CLDR)."""
    if found := _YEAR_FIRST.fullmatch(text):
        return int(found[1]), int(found[2]), int(found[3])
    if found := _YEAR_LAST.fullmatch(text):
        year = int(found[4]) + (2000 if len(found[4]) == 2 else 0)
        first, second = int(found[1]), int(found[3])
        if found[2] == "." or day_first:
            return year, second, first
        return (year, first, second) if day_first is False else None
    if found := _DAY_NAME.fullmatch(text):
        month, day = MONTHS.get(found[2].lower()[:3]), int(found[1])
    elif found := _NAME_DAY.fullmatch(text):
        month, day = MONTHS.get(found[1].lower()[:3]), int(found[2])
    else:
        return None
    return (int(found[3]), month, day) if month else None


def read_instant(cell: str, day_first: bool | None) -> tuple[Decimal, str] | None:
    """Seconds of a date with a time since day 0, and its zone; with a zone, in universal time.

    >>> a = read_instant("2024-03-31T01:59:50+01:00", None)
    >>> b = read_instant("2024-03-31T03:00:05+02:00", None)
    >>> b[0] - a[0]
    Decimal('15')
    """
    found = INSTANT.fullmatch(cell) or INSTANT.fullmatch(_spread(cell))
    if not found:
        return None
    day, time = day_number(found["date"], day_first), _time_of(found, "hh:mm")
    if day is None or time is None or time >= DAY:
        return None
    zone = found["zone"] or ""
    return day * DAY + time - zone_seconds(zone), zone


def _spread(cell: str) -> str:
    """A compact instant such as 20240301T101500 in the spelled form the rest reads."""
    found = BASIC_INSTANT.fullmatch(cell)
    if not found:
        return cell
    day, hours, minutes, seconds, fraction, zone = found.groups(default="")
    tail = f".{fraction}" if fraction else ""
    return f"{day}T{hours}:{minutes}:{seconds}{tail}{zone}"


def zone_seconds(zone: str) -> int:
    """Offset of a zone mark from universal time."""
    if zone[:1] not in ("+", "-"):
        return 0
    digits = zone[1:].replace(":", "").ljust(4, "0")
    offset = int(digits[:2]) * 3600 + int(digits[2:]) * 60
    return -offset if zone[0] == "-" else offset


def compact_clock(cell: str) -> Decimal | None:
    """Seconds of an hhmmss cell such as 101500."""
    found = re.fullmatch(_BASIC_TIME, cell.zfill(6), re.ASCII)
    if not found:
        return None
    return Decimal(int(found[1]) * 3600 + int(found[2]) * 60 + int(found[3]))


def iso_clock(seconds: Decimal, zone: str = "") -> str:
    """An instant (seconds since day 0, universal if it has a zone) as ISO 8601 text."""
    local = seconds + zone_seconds(zone)
    day, rest = divmod(local, DAY)
    mark = "Z" if zone and zone[0] not in "+-" else zone
    return f"{dt.date.fromordinal(int(day)).isoformat()}T{iso_time(rest)}{mark}"


def iso_time(seconds: Decimal) -> str:
    """A time of day as hh:mm:ss, with its fraction if there is one."""
    whole = int(seconds)
    fraction = format((seconds - whole).normalize(), "f").partition(".")[2]
    hms = f"{whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}"
    return f"{hms}.{fraction}" if fraction else hms

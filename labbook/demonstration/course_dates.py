"""When the terms run and the sections meet, counted back from the present."""

from __future__ import annotations

from calendar import monthrange
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.utils import timezone

BEFORE, AFTER = timedelta(days=49), timedelta(days=42)
BETWEEN_VISITS = timedelta(days=14)
SECTIONS = ("K", "M")
# Section K meets in the weeks between, a weekday later than section M.
K_IS_AHEAD = timedelta(days=6)
AFTERNOON_STARTS = time(13, 30)
YEAR = timedelta(days=365.25)


@dataclass(frozen=True)
class TermDates:
    name: str
    middle: date

    @property
    def starts(self) -> date:
        return self.middle - BEFORE

    @property
    def ends(self) -> date:
        return self.middle + AFTER


@dataclass(frozen=True)
class Visit:
    """One afternoon of one section."""

    term: int
    section: int
    day: date

    @property
    def starts(self) -> datetime:
        return at_local(self.day, AFTERNOON_STARTS)


def at_local(day: date, moment: time) -> datetime:
    return datetime.combine(day, moment, tzinfo=timezone.get_current_timezone())


def term_dates(count: int, today: date) -> list[TermDates]:
    """The last so many terms, one every half year; today is the middle of the newest."""
    return [_term(_months_before(today, 6 * ago), today) for ago in reversed(range(count))]


def _term(middle: date, today: date) -> TermDates:
    season = "Spring" if middle.month <= 6 else "Autumn"
    same_weekday = middle - timedelta(days=(middle.weekday() - today.weekday()) % 7)
    return TermDates(f"{season} {middle.year}", same_weekday)


def _months_before(day: date, months: int) -> date:
    year, month = divmod(12 * day.year + day.month - 1 - months, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


def visits_of(term: int, middle: date, visits: int) -> list[Visit]:
    """The sections' afternoons of a term in order; the last is section M's, at its middle."""
    days = [middle - BETWEEN_VISITS * back for back in reversed(range(visits))]
    return [
        Visit(term, section, day - ahead)
        for day in days
        for section, ahead in enumerate((K_IS_AHEAD, timedelta(0)))
    ]

"""What a roster says, whatever its format: who is in which section and group, and what is wrong."""

from __future__ import annotations

from dataclasses import dataclass


class RosterUnreadable(ValueError):
    """The whole file cannot be taken: says what was seen and what was expected."""


@dataclass(frozen=True)
class Entry:
    """One student's place; without a group the record finds one in the section."""

    where: str
    section: str
    group: str
    name: str
    number: str = ""
    roster_id: str = ""

    @property
    def keys(self) -> tuple[str, ...]:
        """What the person may be known by."""
        return tuple(key for key in (self.roster_id, self.number, self.name) if key)


@dataclass(frozen=True)
class BadRow:
    """A row left out. ``keys`` are the identifier, number or name that could still be read."""

    where: str
    seen: str
    expected: str
    keys: tuple[str, ...] = ()


@dataclass(frozen=True)
class Left:
    """A student a delta file takes out of a section; without a section, out of all."""

    roster_id: str
    section: str = ""


@dataclass(frozen=True)
class Roster:
    """``is_complete``: who is not in it has left. A delta file says itself who left."""

    format: str
    entries: tuple[Entry, ...]
    bad: tuple[BadRow, ...]
    remarks: tuple[str, ...] = ()
    is_complete: bool = True
    left: tuple[Left, ...] = ()

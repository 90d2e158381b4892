"""Rosters: bytes in, the students of each section and group out. No database.

>>> read_roster(b"section,group,name\\nMonday,M1,Ada Quill\\n").entries[0].name
'Ada Quill'
"""

from __future__ import annotations

from .entries import BadRow, Entry, Left, Roster, RosterUnreadable
from .one_roster import FILES, read_one_roster, unpack
from .plain import read_plain
from .text import MOST_BYTES

__all__ = [
    "FILES",
    "MOST_BYTES",
    "BadRow",
    "Entry",
    "Left",
    "Roster",
    "RosterUnreadable",
    "read_one_roster",
    "read_roster",
]


def read_roster(data: bytes) -> Roster:
    """A zip is read by the OneRoster CSV standard, all else as a plain roster."""
    if not data.startswith(b"PK\x03\x04"):
        return read_plain(data)
    if len(data) > MOST_BYTES:
        raise RosterUnreadable("The zip has more than 2 MB. Export this course alone.")
    return read_one_roster(unpack(data))

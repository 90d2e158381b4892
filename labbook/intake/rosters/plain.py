"""A plain roster: one student a line, the columns named in the first.

Columns, in any order: section, name (or given name and family name), and where they are to be had
group, student number, id, role. Other columns are left alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from .checks import apart, fault_in, shown
from .entries import BadRow, Entry, Roster, RosterUnreadable
from .text import Row, decode, delimiter_of, rows_of

SPELLINGS = {
    "section": ("section", "sectionname", "labsection", "class", "classname", "lab", "sec"),
    "group": ("group", "groupcode", "groupname", "team", "labgroup", "grp"),
    "name": ("name", "fullname", "student", "studentname", "displayname"),
    "given": ("givenname", "given", "firstname", "forename", "givennames"),
    "family": ("familyname", "family", "lastname", "surname"),
    "number": (
        "studentnumber", "number", "studentno", "studentnr", "matriculationnumber",
        "matriculation", "matricno", "registrationnumber", "no",
    ),
    "roster_id": ("id", "rosterid", "sourcedid", "studentid", "identifier", "userid", "personid"),
    "role": ("role", "type"),
}  # fmt: skip
FIELD_OF = {spelling: field for field, spellings in SPELLINGS.items() for spelling in spellings}
STUDENT = ("", "student", "learner")
STAFF = ("teacher", "instructor", "ta", "assistant", "teachingassistant", "coordinator")
WHOLE = re.compile(r"(\d+)[.,]0+")
EXPECTED = "The first line names the columns: section, group, name, student number, id."


def read_plain(data: bytes) -> Roster:
    text = decode(data)
    delimiter = delimiter_of(text)
    rows = list(rows_of(text, delimiter))
    columns = _columns(rows[0] if rows else Row(1, []))
    read = list(_read(rows[1:], columns, len(rows[0].cells)))
    staff = read.count(None)
    found = [row for row in read if row is not None]
    bad = [row for row in found if isinstance(row, BadRow)]
    entries = list(apart(row for row in found if isinstance(row, Entry)))
    bad += [row for row in entries if isinstance(row, BadRow)]
    said = f"{staff} row(s) of staff were left alone: TAs are set up with their sections."
    return Roster(
        "plain",
        tuple(row for row in entries if isinstance(row, Entry)),
        tuple(sorted(bad, key=lambda row: int(row.where.removeprefix("line ")))),
        (said,) if staff else (),
    )


def _columns(head: Row) -> dict[str, int]:
    columns: dict[str, int] = {}
    for place, cell in enumerate(head.cells):
        field = FIELD_OF.get(_squeezed(cell))
        if field in columns:
            raise RosterUnreadable(f"Two columns are a {field}: “{shown(cell)}” is the second.")
        if field:
            columns[field] = place
    named = "name" in columns or {"given", "family"} <= columns.keys()
    if "section" not in columns or not named:
        seen = ", ".join(f"“{shown(cell)}”" for cell in head.cells[:10])
        raise RosterUnreadable(f"The first line reads {seen}. {EXPECTED}")
    return columns


def _squeezed(text: str) -> str:
    return re.sub(r"[\W_]", "", text.casefold())


def _read(rows: list[Row], columns: dict[str, int], width: int) -> Iterator[Entry | BadRow | None]:
    """Each row as an entry, as a bad row, or None for a row of staff."""
    for row in rows:
        where = f"line {row.line}"
        cells = {
            field: row.cells[place] for field, place in columns.items() if place < len(row.cells)
        }
        entry = _entry(where, cells)
        fault = _fault_of_row(row, width, entry) or _fault_of_role(entry, cells.get("role", ""))
        role = _squeezed(cells.get("role", ""))
        yield None if role in STAFF and fault is None else fault or fault_in(entry) or entry


def _entry(where: str, cells: dict[str, str]) -> Entry:
    parts = (cells.get("given", ""), cells.get("family", ""))
    return Entry(
        where,
        section=cells.get("section", ""),
        group=cells.get("group", ""),
        name=cells.get("name") or " ".join(part for part in parts if part),
        number=_whole(cells.get("number", "")),
        roster_id=_whole(cells.get("roster_id", "")),
    )


def _whole(number: str) -> str:
    """A number that a spreadsheet gave decimals, by point or by comma: 70013.0 is 70013."""
    found = WHOLE.fullmatch(number)
    return found[1] if found else number


def _fault_of_row(row: Row, width: int, entry: Entry) -> BadRow | None:
    """Cells missing or too many; empty ones too many at the end do no harm."""
    if any("\n" in cell for cell in row.cells):
        # What a quotation mark left open swallowed may be many students: nobody can be named.
        seen = "a quotation mark that is not closed, or a line break in a cell"
        return BadRow(entry.where, seen, "One row a line, quotation marks in pairs.")
    cells = len(row.cells)
    if cells == width or (cells > width and not any(row.cells[width:])):
        return None
    return BadRow(
        entry.where, f"{cells} cells", f"{width} cells, as in the first line.", entry.keys
    )


def _fault_of_role(entry: Entry, role: str) -> BadRow | None:
    if _squeezed(role) in (*STUDENT, *STAFF):
        return None
    return BadRow(entry.where, f"role “{shown(role)}”", "student, or teacher.", entry.keys)

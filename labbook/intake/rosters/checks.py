"""What makes a row a bad one: by itself, or beside another row."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from .entries import BadRow, Entry
from .text import NOT_READ, ZERO_BYTE

LONGEST = {"section": 40, "group": 12, "name": 80, "number": 24, "roster_id": 60}
WORDS = {
    "section": "section",
    "group": "group",
    "name": "name",
    "number": "student number",
    "roster_id": "id",
}
FORMULA = ("=", "+", "-", "@")
# UTF-8 read as a single-byte encoding and saved again: “Ã©” where “é” was.
READ_TWICE = re.compile("[ÃÂ][\u0080-\u00bf]|â€")
SHORTENED = re.compile(r"\d[.,]\d+E[+-]?\d+", re.IGNORECASE)
CONTROL = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")
MUCH = 60


def fault_in(entry: Entry) -> BadRow | None:
    """The first thing wrong with a row by itself."""
    for field in WORDS:
        found = _fault(field, getattr(entry, field))
        if found:
            swallowed = any("\n" in key for key in entry.keys)
            return BadRow(entry.where, *found, () if swallowed else entry.keys)
    return None


def _fault(field: str, value: str) -> tuple[str, str] | None:
    """What was seen and what was expected in a field; None when it is sound."""
    words, seen = WORDS[field], f"{WORDS[field]} “{shown(value)}”"
    if not value:
        expected = "Every student needs a name, every row a section."
        return (f"no {words}", expected) if field in ("name", "section") else None
    if ZERO_BYTE in value:
        return f"{seen} with a zero byte", "Plain text. Export the roster again."
    if NOT_READ in value:
        return f"{seen} with bytes that are not UTF-8", "Save the whole file as UTF-8."
    if "\n" in value or "\r" in value:
        return f"a line break in the {words}", "One row a line: close the quotation mark before it."
    if CONTROL.search(value):
        return f"{seen} with a control character", "Plain text. Type the cell again."
    if READ_TWICE.search(value):
        return seen, "Letters were spoilt when it was saved: export it as UTF-8 from the start."
    if value.startswith(FORMULA):
        return seen, "A spreadsheet would run this as a formula: take its first character away."
    if len(value) > LONGEST[field]:
        return f"{seen}, {len(value)} characters", f"At most {LONGEST[field]} characters."
    if field == "name" and not any(letter.isalpha() for letter in value):
        return seen, "A name has letters: are two columns swapped?"
    if field in ("number", "roster_id") and SHORTENED.fullmatch(value):
        return seen, "A spreadsheet shortened it: set that column to text and export again."
    return None


def shown(value: str) -> str:
    plain = CONTROL.sub("·", value)
    return plain if len(plain) <= MUCH else f"{plain[:MUCH]}…"


def apart(entries: Iterable[Entry]) -> Iterator[Entry | BadRow]:
    """Each row, or what is wrong with it beside the rows before it."""
    before: dict[tuple[str, str], Entry] = {}
    for entry in entries:
        found = _clash(entry, before)
        if found:
            yield BadRow(entry.where, *found, keys=entry.keys)
            continue
        before |= dict.fromkeys(_known_by(entry), entry)
        yield entry


def _known_by(entry: Entry) -> list[tuple[str, str]]:
    known = [("id", entry.roster_id), ("student number", entry.number)]
    known = [(kind, value.casefold()) for kind, value in known if value]
    return known or [("name", entry.name.casefold())]


def _clash(entry: Entry, before: dict[tuple[str, str], Entry]) -> tuple[str, str] | None:
    for kind, value in _known_by(entry):
        other = before.get((kind, value))
        if other is None:
            continue
        same = f"{kind} {shown(value)}"
        if kind != "name" and other.name.casefold() != entry.name.casefold():
            names = f"“{shown(other.name)}” on {other.where}, “{shown(entry.name)}” here"
            return f"{same} with two names: {names}", f"One name for each {kind}."
        if kind == "id" and other.number != entry.number:
            numbers = f"“{other.number}” on {other.where}, “{entry.number}” here"
            return f"{same} with two student numbers: {numbers}", "One number for each id."
        if (other.section, other.group) == (entry.section, entry.group):
            return f"the same student as on {other.where}", "Each student once."
        place = f"{other.section} {other.group}".strip()
        more = "" if kind != "name" else " Two people of one name need their student numbers."
        return (
            f"the same student as on {other.where}, there in {place}",
            f"One section and group for each student.{more}",
        )
    return None

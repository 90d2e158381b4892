"""A roster in the OneRoster CSV standard, 1.1 and 1.2 (1EdTech): a zip or a folder of CSV files.

Read are manifest.csv, classes.csv, users.csv and enrollments.csv; a class is a section. The names
of files, columns and values follow the published standard, from memory.
"""

from __future__ import annotations

import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import PurePosixPath

from .checks import apart, fault_in, shown
from .entries import BadRow, Entry, Left, Roster, RosterUnreadable
from .text import decode, rows_of

FILES = ("manifest.csv", "classes.csv", "users.csv", "enrollments.csv")
NEEDED = {
    "classes.csv": ("sourcedid", "title"),
    "users.csv": ("sourcedid", "givenname", "familyname"),
    "enrollments.csv": ("sourcedid", "classsourcedid", "usersourcedid", "role"),
}
STATUSES = ("", "active", "inactive", "tobedeleted")  # inactive came with 1.0, before 1.1
STAFF = ("teacher", "administrator", "proctor", "aide")
MOST_UNPACKED = 20 * 1024 * 1024


@dataclass(frozen=True)
class Record:
    where: str
    cells: Mapping[str, str]

    def __getitem__(self, name: str) -> str:
        return self.cells.get(name, "")

    @property
    def is_gone(self) -> bool:
        return self["status"].casefold() in ("tobedeleted", "inactive")


@dataclass
class _Read:
    entries: list[Entry] = field(default_factory=list)
    bad: list[BadRow] = field(default_factory=list)
    left: list[Left] = field(default_factory=list)
    staff: int = 0


def unpack(data: bytes) -> dict[str, bytes]:
    """The files of a zip that are read, by their names; folders inside it make no difference."""
    try:
        with zipfile.ZipFile(BytesIO(data)) as packed:
            members = {PurePosixPath(one.filename).name: one for one in packed.infolist()}
            wanted = {name: members[name] for name in FILES if name in members}
            if sum(one.file_size for one in wanted.values()) > MOST_UNPACKED:
                raise RosterUnreadable("The files in the zip have more than 20 MB together.")
            return {name: packed.read(one) for name, one in wanted.items()}
    except (zipfile.BadZipFile, RuntimeError, NotImplementedError, EOFError, OSError) as error:
        sentence = f"The zip cannot be opened ({error}). Pack the CSV files again, unlocked."
        raise RosterUnreadable(sentence) from error


def read_one_roster(files: Mapping[str, bytes]) -> Roster:
    missing = [name for name in NEEDED if name not in files]
    if missing:
        expected = "A roster in this standard has classes.csv, users.csv and enrollments.csv."
        raise RosterUnreadable(f"Not there: {', '.join(missing)}. {expected}")
    is_delta = _is_delta(files)
    read = _Read()
    classes, users = (_by_id(files, name, read.bad) for name in ("classes.csv", "users.csv"))
    for record in _records(files, "enrollments.csv"):
        _take(record, classes, users, read)
    if is_delta:
        read.left += [Left(key) for key, user in users.items() if user.is_gone]
    entries = list(apart(read.entries))
    said = f"{read.staff} enrolment(s) of staff were left alone: TAs are set up with sections."
    return Roster(
        "OneRoster",
        tuple(row for row in entries if isinstance(row, Entry)),
        tuple(read.bad + [row for row in entries if isinstance(row, BadRow)]),
        (said,) if read.staff else (),
        is_complete=not is_delta,
        left=tuple(read.left),
    )


def _is_delta(files: Mapping[str, bytes]) -> bool:
    """Whether enrolments are changes only; without a manifest they are all there are."""
    if "manifest.csv" not in files:
        return False
    said = {
        row["propertyname"].casefold(): row["value"].casefold()
        for row in _records(files, "manifest.csv")
    }
    mode = said.get("file.enrollments", "bulk")
    if mode not in ("bulk", "delta"):
        seen = f"manifest.csv says of enrollments.csv “{shown(mode)}”"
        raise RosterUnreadable(f"{seen}; bulk or delta was expected.")
    return mode == "delta"


def _records(files: Mapping[str, bytes], name: str) -> Iterator[Record]:
    """The rows of a file by their column names; too few or too many cells are kept as they are."""
    rows = list(rows_of(decode(files[name]), ","))
    head = [cell.casefold() for cell in rows[0].cells] if rows else []
    lacking = [column for column in NEEDED.get(name, ()) if column not in head]
    if lacking:
        raise RosterUnreadable(f"{name} has no column {', '.join(lacking)}.")
    for row in rows[1:]:
        cells = dict(zip(head, row.cells, strict=False))
        if len(row.cells) != len(head):
            cells["cells"] = f"{len(row.cells)} cells, {len(head)} columns"
        yield Record(f"{name}, line {row.line}", cells)


def _by_id(files: Mapping[str, bytes], name: str, bad: list[BadRow]) -> dict[str, Record]:
    found: dict[str, Record] = {}
    for record in _records(files, name):
        key = record["sourcedid"]
        fault = _fault(record)
        if fault is None and key in found:
            fault = BadRow(
                record.where, f"sourcedId {shown(key)} for the second time",
                f"Once; it stands on {found[key].where}.", (key,),
            )  # fmt: skip
        if fault:
            bad.append(fault)
        else:
            found[key] = record
    return found


def _fault(record: Record) -> BadRow | None:
    key = record["sourcedid"]
    keys = tuple(one for one in (key, record["usersourcedid"]) if one)
    if record["cells"]:
        return BadRow(record.where, record["cells"], "As many cells as columns.", keys)
    if not key:
        return BadRow(record.where, "no sourcedId", "Every row needs its own.", keys)
    if record["status"].casefold() not in STATUSES:
        seen = f"status “{shown(record['status'])}”"
        return BadRow(record.where, seen, "active, tobedeleted, or blank.", keys)
    return None


def _take(
    record: Record, classes: dict[str, Record], users: dict[str, Record], read: _Read
) -> None:
    """One enrolment: a place, a student who left, staff, or a bad row."""
    role = record["role"].casefold()
    user, group = users.get(record["usersourcedid"]), classes.get(record["classsourcedid"])
    fault = _fault(record) or _fault_of_enrolment(record, user, group)
    if fault:
        read.bad.append(fault)
    elif role in STAFF:
        read.staff += 1
    elif user is None or group is None:
        # A delta file that takes somebody out need not describe them again.
        read.left.append(Left(record["usersourcedid"], group["title"] if group else ""))
    elif record.is_gone or user.is_gone or group.is_gone:
        read.left.append(Left(user["sourcedid"], group["title"]))
    else:
        entry = _entry(record, user, group)
        fault = fault_in(entry)
        read.entries.append(entry) if fault is None else read.bad.append(fault)


def _fault_of_enrolment(record: Record, user: Record | None, group: Record | None) -> BadRow | None:
    keys = tuple(key for key in (record["usersourcedid"],) if key)
    if record["role"].casefold() not in ("student", *STAFF):
        seen = f"role “{shown(record['role'])}”"
        return BadRow(record.where, seen, "student, or one of " + ", ".join(STAFF) + ".", keys)
    if record.is_gone:
        return None
    if user is None:
        seen = f"userSourcedId “{shown(record['usersourcedid'])}”"
        return BadRow(record.where, seen, "One that stands in users.csv.", keys)
    if group is None:
        seen = f"classSourcedId “{shown(record['classsourcedid'])}”"
        return BadRow(record.where, seen, "One that stands in classes.csv.", keys)
    return None


def _entry(record: Record, user: Record, group: Record) -> Entry:
    given = user["preferredgivenname"] or user["givenname"]
    family = user["preferredfamilyname"] or user["familyname"]
    return Entry(
        record.where,
        section=group["title"],
        group="",
        name=" ".join(part for part in (given, family) if part),
        number=user["identifier"],
        roster_id=user["sourcedid"],
    )

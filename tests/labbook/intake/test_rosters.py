"""Rosters read right in every dialect, and bad rows named by line with what was expected."""

from __future__ import annotations

import io
import zipfile

import pytest

from labbook.intake.rosters import Roster, RosterUnreadable, read_one_roster, read_roster

HEAD = "section,group,name,student number,id,role\n"
TEXT = "Section;Group;Full Name;Student No\nMonday;M1;José Tern;70013\nFriday;F1;Zoë Brook;70026\n"


def seen(rows: str) -> list[tuple[str, str]]:
    """Where and what was bad in rows under the usual head."""
    return [(row.where, row.seen) for row in read_roster((HEAD + rows).encode()).bad]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
@pytest.mark.parametrize("delimiter", [";", ",", "\t", "|"])
@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_dialects_are_found(encoding: str, delimiter: str, ending: str) -> None:
    text = TEXT.replace(";", delimiter).replace("\n", ending)
    found = read_roster(text.encode(encoding))
    assert [(one.section, one.group, one.name, one.number) for one in found.entries] == [
        ("Monday", "M1", "José Tern", "70013"),
        ("Friday", "F1", "Zoë Brook", "70026"),
    ]
    assert not found.bad


@pytest.mark.parametrize(
    "head",
    [
        "First name,Surname,Class,Matriculation number",
        "GIVEN NAME,Family_Name,lab section,Number",
        "forename,last-name,Section Name,Student-Nr",
    ],
)
def test_columns_are_known_by_several_spellings(head: str) -> None:
    (entry,) = read_roster(f"{head}\nAda,Quill,Monday,7\n".encode()).entries
    assert (entry.name, entry.section, entry.number, entry.group) == (
        "Ada Quill",
        "Monday",
        "7",
        "",
    )


@pytest.mark.parametrize("number", ["70013.0", "70013,0", "70013.00"])
def test_a_number_that_got_decimals_is_the_whole_number(number: str) -> None:
    (entry,) = read_roster(f"section;name;number\nMonday;Ada Quill;{number}\n".encode()).entries
    assert entry.number == "70013"


BAD_ROWS = {
    "missing name": ("Mo,M1,,7,,\n", "no name"),
    "missing section": (",M1,Ada Quill,7,,\n", "no section"),
    "name too long": (f"Mo,M1,{'A' * 81},7,,\n", "81 characters"),
    "number too long": (f"Mo,M1,Ada,{'7' * 25},,\n", "25 characters"),
    "section too long": (f"{'S' * 41},M1,Ada,7,,\n", "41 characters"),
    "group too long": (f"Mo,{'G' * 13},Ada,7,,\n", "13 characters"),
    "id too long": (f"Mo,M1,Ada,7,{'x' * 61},\n", "61 characters"),
    "formula in a name": ("Mo,M1,=1+1|cmd,7,,\n", "name “=1+1|cmd”"),
    "formula in a number": ("Mo,M1,Ada,@SUM(A1),,\n", "student number “@SUM(A1)”"),
    "zero byte": ("Mo,M1,Ada\0Quill,7,,\n", "zero byte"),
    "control character": ("Mo,M1,Ada\x07,7,,\n", "control character"),
    "text turned round": ("Mo,M1,Ada\u202eQuill,7,,\n", "control character"),
    "letters spoilt": ("Mo,M1,JosÃ© Tern,7,,\n", "name “JosÃ© Tern”"),
    "no letters in the name": ("Mo,M1,70013,Ada,,\n", "name “70013”"),
    "number shortened": ("Mo,M1,Ada,1.23E+09,,\n", "student number “1.23E+09”"),
    "too few cells": ("Mo,M1,Ada\n", "3 cells"),
    "too many cells": ("Mo,M1,Ada,7,,,more\n", "7 cells"),
    "line break in a cell": ('Mo,M1,"Ada\nQuill",7,,\n', "quotation mark"),
    "quotation mark left open": ('Mo,M1,"Ada,7,,\nMo,M1,Bea,8,,\n', "quotation mark"),
    "unknown role": ("Mo,M1,Ada,7,,parent\n", "role “parent”"),
}


@pytest.mark.parametrize(("row", "words"), BAD_ROWS.values(), ids=BAD_ROWS)
def test_a_bad_row_is_named_by_its_line(row: str, words: str) -> None:
    ((where, told),) = seen("Mo,M1,Cy Reed,1,,\n" + row)
    assert where == "line 3" and words in told


CLASHES = {
    "twice the same": ("Mo,M1,Ada,7,,\n", "the same student as on line 2"),
    "in two groups": ("Mo,M2,Ada,7,,\n", "the same student as on line 2, there in Mo M1"),
    "one number, two names": ("Mo,M1,Bea,7,,\n", "student number 7 with two names"),
}


@pytest.mark.parametrize(("row", "words"), CLASHES.values(), ids=CLASHES)
def test_a_row_that_clashes_with_an_earlier_one(row: str, words: str) -> None:
    ((where, told),) = seen("Mo,M1,Ada,7,,\n" + row)
    assert where == "line 3" and words in told


def test_one_id_has_one_name_and_one_number() -> None:
    (number,) = seen("Mo,M1,Ada,7,x1,\nMo,M1,Ada,8,x1,\n")
    (name,) = seen("Mo,M1,Ada,,x1,\nMo,M1,Bea,,x1,\n")
    assert "two student numbers" in number[1] and "two names" in name[1]


def test_two_of_one_name_are_told_apart_by_their_numbers() -> None:
    assert not seen("Mo,M1,Ada Quill,7,,\nMo,M2,Ada Quill,8,,\n")
    assert "their student numbers" in (
        read_roster((HEAD + "Mo,M1,Ada,,,\nMo,M2,Ada,,,\n").encode()).bad[0].expected
    )


def test_a_damaged_line_does_not_spoil_the_others() -> None:
    data = HEAD.encode() + "Mo,M1,José,7,,\n".encode() + b"Mo,M1,Zo\xeb,8,,\n"
    found = read_roster(data)
    assert [one.name for one in found.entries] == ["José"]
    assert "not UTF-8" in found.bad[0].seen and found.bad[0].where == "line 3"


def test_a_swallowed_row_names_nobody_and_others_are_named_by_what_could_be_read() -> None:
    swallowed = read_roster((HEAD + 'Mo,M1,"Ada,7,,\nMo,M1,Bea,8,,\n').encode())
    formula = read_roster((HEAD + "Mo,M1,=Ada,7,x7,\n").encode())
    assert swallowed.bad[0].keys == () and formula.bad[0].keys == ("x7", "7", "=Ada")


def test_rows_of_staff_are_left_alone_and_counted() -> None:
    found = read_roster((HEAD + "Mo,,Tess Dale,,,Teacher\nMo,M1,Ada,7,,Student\n").encode())
    assert len(found.entries) == 1 and not found.bad and "1 row(s) of staff" in found.remarks[0]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"\0\0\0\0", "empty"),
        (b"%PDF-1.7", "a PDF document"),
        (b"PK\x03\x04 no zip", "cannot be opened"),
        (b"group,name\nM1,Ada\n", "The first line reads"),
        (b"section,name,student,number\n", "Two columns are a name"),
        (b"a" * (2 * 1024 * 1024 + 1), "2 MB"),
    ],
)
def test_a_file_that_is_no_roster_is_refused_whole(data: bytes, words: str) -> None:
    with pytest.raises(RosterUnreadable, match=words):
        read_roster(data)


# Columns by the published standard (1EdTech OneRoster CSV tables), from memory.
CLASSES = "sourcedId,status,dateLastModified,title,grades,courseSourcedId,classCode\n"
USERS = (
    "sourcedId,status,dateLastModified,enabledUser,orgSourcedIds,role,username,userIds,"
    "givenName,familyName,middleName,identifier\n"
)
ENROLLED = (
    "sourcedId,status,dateLastModified,classSourcedId,schoolSourcedId,userSourcedId,role,primary,"
    "beginDate,endDate\n"
)
FILES = {
    "classes.csv": CLASSES + "c1,,,Monday,,k1,MO\n",
    "users.csv": USERS
    + "u1,,,true,o1,student,aq,,Ada,Quill,,70013\n"
    + "u2,,,true,o1,teacher,td,,Tess,Dale,,\n",
    "enrollments.csv": ENROLLED + "e1,,,c1,o1,u1,student,,,\n" + "e2,,,c1,o1,u2,teacher,true,,\n",
    "manifest.csv": "propertyName,value\noneroster.version,1.1\nfile.enrollments,bulk\n",
}


def one_roster(**more: str) -> Roster:
    """The files with rows added to some of them, by a zip."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, text in FILES.items():
            archive.writestr(f"export/{name}", text + more.get(name.removesuffix(".csv"), ""))
    return read_roster(packed.getvalue())


def test_the_standards_files_give_students_with_section_and_id() -> None:
    found = one_roster()
    (entry,) = found.entries
    assert (entry.section, entry.name, entry.number, entry.roster_id) == (
        "Monday",
        "Ada Quill",
        "70013",
        "u1",
    )
    assert not found.bad and found.is_complete and "1 enrolment(s) of staff" in found.remarks[0]


STANDARDS_BAD_ROWS = {
    "dangling user": ({"enrollments": "e3,,,c1,o1,u9,student,,,\n"}, "userSourcedId “u9”"),
    "dangling class": ({"enrollments": "e3,,,c9,o1,u1,student,,,\n"}, "classSourcedId “c9”"),
    "unknown role": ({"enrollments": "e3,,,c1,o1,u1,ghost,,,\n"}, "role “ghost”"),
    "unknown status": ({"enrollments": "e3,gone,,c1,o1,u1,student,,,\n"}, "status “gone”"),
    "no sourcedId": ({"users": ",,,true,o1,student,b,,Bea,Ash,,\n"}, "no sourcedId"),
    "sourcedId twice": ({"users": "u1,,,true,o1,student,b,,Bea,Ash,,\n"}, "for the second time"),
    "cells missing": ({"classes": "c2,,\n"}, "3 cells, 7 columns"),
}


@pytest.mark.parametrize(("more", "words"), STANDARDS_BAD_ROWS.values(), ids=STANDARDS_BAD_ROWS)
def test_a_bad_row_of_the_standard_is_named_by_file_and_line(
    more: dict[str, str], words: str
) -> None:
    (row,) = one_roster(**more).bad
    (file,) = more
    assert words in row.seen and row.where.startswith(f"{file}.csv, line ")


def test_what_is_to_be_deleted_is_no_student_of_the_class() -> None:
    gone = ENROLLED + "e1,tobedeleted,,c1,o1,u1,student,,,\n"
    assert not read_one_roster(_bytes(FILES | {"enrollments.csv": gone})).entries


def test_a_delta_drops_only_whom_it_names() -> None:
    delta = FILES | {
        "manifest.csv": "propertyName,value\nfile.enrollments,delta\n",
        "enrollments.csv": ENROLLED + "e1,tobedeleted,,c1,o1,u1,student,,,\n",
    }
    found = read_one_roster(_bytes(delta))
    assert not found.is_complete
    assert [(one.roster_id, one.section) for one in found.left] == [("u1", "Monday")]


def test_a_set_without_its_files_is_refused() -> None:
    with pytest.raises(RosterUnreadable, match=r"Not there: users\.csv"):
        read_one_roster(_bytes({k: v for k, v in FILES.items() if k != "users.csv"}))


def _bytes(files: dict[str, str]) -> dict[str, bytes]:
    return {name: text.encode() for name, text in files.items()}

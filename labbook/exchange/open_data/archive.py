"""A data set as one zip: tables, their description, and the whole as an RO-Crate.

It is written table by table to a file, so that its size costs no memory.
"""

from __future__ import annotations

import json
import zipfile
from collections.abc import Callable
from functools import partial
from typing import IO, Any

from ...lookups.open_data import Scope
from .about import NO_LICENCE, About, about
from .crate import DESCRIPTOR, crate
from .package import data_package
from .tables import READINGS, TABLES, Table, written
from .written import Counted, Written


def file_name(of: About) -> str:
    return f"{of.name}.zip"


def write_open_data(scope: Scope, to: IO[bytes], *, with_readings: bool) -> dict[str, Written]:
    """Write the archive of a term or a bench; what is in it, by the name of the file."""
    tables = [table for table in TABLES if with_readings or table.name != READINGS]
    of, made = about(scope), {}
    with zipfile.ZipFile(to, "w", zipfile.ZIP_DEFLATED) as archive:
        for table in tables:
            made[table.file] = _add(archive, table.file, partial(written, table, scope))
        made["README.txt"] = _add(archive, "README.txt", _text(_readme(of, made, tables)))
        package = _json(data_package(of, made, tables))
        made["datapackage.json"] = _add(archive, "datapackage.json", _text(package))
        _add(archive, DESCRIPTOR, _text(_json(crate(of, made, tables))))
    return made


def _add(archive: zipfile.ZipFile, name: str, write: Callable[[Counted], int]) -> Written:
    with archive.open(name, "w", force_zip64=True) as member:
        counted = Counted(member)
        rows = write(counted)
    return Written(counted.size, counted.sha256, rows)


def _text(content: str) -> Callable[[Counted], int]:
    def write(to: Counted) -> int:
        to.write(content)
        return 0

    return write


def _json(content: dict[str, Any]) -> str:
    return json.dumps(content, ensure_ascii=False, indent=1) + "\n"


def _readme(of: About, made: dict[str, Written], tables: list[Table]) -> str:
    listed = "\n".join(
        f"{table.file:<28} {made[table.file].rows:>8} rows  {table.title}" for table in tables
    )
    licence = f"Licence: {of.licence}" if of.licence else NO_LICENCE
    return f"""{of.title}

{of.description}

{listed}
{"datapackage.json":<28} the columns: types, units, keys (Frictionless Data Package)
{DESCRIPTOR:<28} the whole as an RO-Crate 1.1

Text that a spreadsheet would take for a formula stands behind an apostrophe.
inputs.csv and readings.csv together are what a result was computed from. Readings that are struck
out are not used.

{of.laboratory}, {of.at:%Y-%m-%d}. {licence}
"""

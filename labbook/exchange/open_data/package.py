"""``datapackage.json``: the tables described for programs, as a Frictionless Data Package.

By specs.frictionlessdata.io, profiles tabular-data-package and tabular-data-resource.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from .about import About
from .tables import Table, table_schema
from .written import Written


def data_package(about: About, made: dict[str, Written], tables: list[Table]) -> dict[str, Any]:
    package: dict[str, Any] = {
        "profile": "tabular-data-package",
        "name": about.name,
        "title": about.title,
        "description": about.description,
        "version": about.version,
        "created": moment(about.at),
        "contributors": [{"title": about.laboratory, "role": "publisher"}],
        "resources": [_resource(table, made[table.file]) for table in tables],
    }
    return package | ({"licenses": [_licence(about.licence)]} if about.licence else {})


def _licence(licence: str) -> dict[str, str]:
    return {"path": licence} if "://" in licence else {"name": licence}


def _resource(table: Table, made: Written) -> dict[str, Any]:
    return {
        "profile": "tabular-data-resource",
        "name": table.name,
        "title": table.title,
        "path": table.file,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": made.size,
        "hash": f"sha256:{made.sha256}",
        "schema": table_schema(table),
    }


def moment(at: datetime) -> str:
    return f"{at:%Y-%m-%dT%H:%M:%SZ}"

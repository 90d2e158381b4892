"""``ro-crate-metadata.json``: the archive as an RO-Crate 1.1 (w3id.org/ro/crate/1.1)."""

from __future__ import annotations

from typing import Any

from .about import NO_LICENCE, SOFTWARE, About
from .package import moment
from .tables import Table, table_schema
from .written import Written

Entity = dict[str, Any]
DESCRIPTOR = "ro-crate-metadata.json"
VERSION = "https://w3id.org/ro/crate/1.1"
MEDIA = {"csv": "text/csv", "json": "application/json", "txt": "text/plain"}
PROGRAM, WRITING, LABORATORY = "#program", "#writing", "#laboratory"


def crate(about: About, made: dict[str, Written], tables: list[Table]) -> Entity:
    titles = {table.file: table.title for table in tables}
    measured = [one for table in tables for one in _quantities(table)]
    return {
        "@context": f"{VERSION}/context",
        "@graph": [
            {
                "@id": DESCRIPTOR,
                "@type": "CreativeWork",
                "about": {"@id": "./"},
                "conformsTo": {"@id": VERSION},
            },
            _root(about, list(made), measured),
            {"@id": LABORATORY, "@type": "Organization", "name": about.laboratory},
            {
                "@id": PROGRAM,
                "@type": "SoftwareApplication",
                "name": SOFTWARE,
                "version": about.version,
            },
            {
                "@id": WRITING,
                "@type": "CreateAction",
                "name": "Written from the record",
                "instrument": {"@id": PROGRAM},
                "agent": {"@id": LABORATORY},
                "endTime": moment(about.at),
                "result": {"@id": "./"},
            },
            *_licence_entity(about.licence),
            *(_file(name, one, titles.get(name, name)) for name, one in made.items()),
            *measured,
        ],
    }


def _root(about: About, names: list[str], measured: list[Entity]) -> Entity:
    licence = {"@id": _address(about.licence)} if about.licence else NO_LICENCE
    return {
        "@id": "./",
        "@type": "Dataset",
        "name": about.title,
        "description": about.description,
        "datePublished": moment(about.at),
        "license": licence,
        "creator": {"@id": LABORATORY},
        "publisher": {"@id": LABORATORY},
        "hasPart": [{"@id": name} for name in names],
        "mentions": {"@id": WRITING},
        "variableMeasured": [{"@id": one["@id"]} for one in measured],
    }


def _address(licence: str) -> str:
    return licence if "://" in licence else f"https://spdx.org/licenses/{licence}"


def _licence_entity(licence: str) -> list[Entity]:
    if not licence:
        return []
    words = "The licence the laboratory states for these data."
    return [
        {
            "@id": _address(licence),
            "@type": "CreativeWork",
            "name": licence,
            "description": words,
        }
    ]


def _file(name: str, made: Written, title: str) -> Entity:
    return {
        "@id": name,
        "@type": "File",
        "name": title,
        "encodingFormat": MEDIA[name.rpartition(".")[2]],
        "contentSize": str(made.size),
        "sha256": made.sha256,
    }


def _quantities(table: Table) -> list[Entity]:
    """Every column that is measured in a unit of its own."""
    return [
        {
            "@id": f"#{table.name}.{field['name']}",
            "@type": "PropertyValue",
            "name": field["name"],
            "description": field["description"],
            "unitText": field["unit"],
            "unitCode": f"UCUM:{field['unit']}",
        }
        for field in table_schema(table)["fields"]
        if "unit" in field
    ]

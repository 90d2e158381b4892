"""The tables of a data set: which there are, their Table Schema, and their rows as CSV.

The schema is that of Frictionless Data (specs.frictionlessdata.io/table-schema), each field with
one member more: ``unit``, its UCUM code.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from ...lookups.open_data import Scope
from ...models import Run
from ...typesetting.cells import inert
from . import rows
from .records import (
    BenchRecord,
    ConstantRecord,
    InputRecord,
    PointRecord,
    ReadingRecord,
    Record,
    ResultRecord,
    RunRecord,
    StandardizationRecord,
    TermRecord,
)

RUNS_AT_ONCE = 100
JSON_TYPES = {"date": "date", "date-time": "datetime"}


@dataclass(frozen=True)
class Table:
    """``key`` tells its rows apart; ``refers`` says which field names a row of which table."""

    name: str
    title: str
    record: type[Record]
    rows: Callable[[Scope], Iterable[Record]]
    key: tuple[str, ...]
    refers: dict[str, tuple[str, str]] = field(default_factory=dict)

    @property
    def file(self) -> str:
        return f"data/{self.name}.csv"


def _of_each_run(made: Callable[[Run], Iterable[Record]]) -> Callable[[Scope], Iterator[Record]]:
    """Rows run by run, so that no more than a few runs are in memory."""

    def found(scope: Scope) -> Iterator[Record]:
        for run in _in_turn(scope.runs()):
            yield from made(run)

    return found


def _in_turn(runs: QuerySet[Run]) -> Iterator[Run]:
    return runs.iterator(chunk_size=RUNS_AT_ONCE)


OF_RUN = {"run": ("runs", "number")}
WHERE = {"bench": ("benches", "code"), "term": ("terms", "name")}
READINGS = "readings"

TABLES = (
    Table("terms", "Terms", TermRecord, lambda of: map(rows.term_record, of.terms()), ("name",)),
    Table("benches", "Benches, as they are made now", BenchRecord,
          lambda of: map(rows.bench_record, of.benches()), ("code",)),
    Table("standardizations", "Standardizations and the heat capacities approved from them",
          StandardizationRecord,
          lambda of: map(rows.standardization_record, of.standardizations()), ("number",), WHERE),
    Table("histories", "Each bench’s approved heat capacities against its own past", PointRecord,
          lambda of: (rows.point_record(*point) for point in of.points()), ("standardization",),
          {"bench": WHERE["bench"], "standardization": ("standardizations", "number")}),
    Table("runs", "Runs", RunRecord, lambda of: map(rows.run_record, _in_turn(of.runs())),
          ("number",),
          {**WHERE, "standardization": ("standardizations", "number"),
           "rests_on": ("standardizations", "number")}),
    Table("results", "Results of the runs with their uncertainties", ResultRecord,
          _of_each_run(rows.result_records), ("run", "quantity", "by_method"), OF_RUN),
    Table("constants", "Constants each result used, with their sources", ConstantRecord,
          _of_each_run(rows.constant_records), ("run", "number"), OF_RUN),
    Table("inputs", "What each result was computed from, beside the readings", InputRecord,
          _of_each_run(rows.input_records), ("run", "key"), OF_RUN),
    Table(READINGS, "Readings of the thermometers", ReadingRecord,
          _of_each_run(rows.reading_records), ("run", "number"), OF_RUN),
)  # fmt: skip


def written(table: Table, scope: Scope, to: Any) -> int:
    """Write a table as CSV and say how many rows it has."""
    names = list(table.record.model_fields)
    writer, count = csv.writer(to, lineterminator="\n"), 0
    writer.writerow(names)
    for record in table.rows(scope):
        writer.writerow([_cell(getattr(record, name)) for name in names])
        count += 1
    return count


def _cell(value: object) -> object:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%dT%H:%M:%SZ}"
    if isinstance(value, float):
        return repr(value)
    return inert(str(value)) if isinstance(value, str) else value


def table_schema(table: Table) -> dict[str, Any]:
    described = table.record.model_json_schema()
    kinds = described.get("$defs", {})
    needed = {name for name, one in described["properties"].items() if not _may_be_empty(one)}
    return {
        "fields": [
            _field(name, _kind(one, kinds), name in needed)
            for name, one in described["properties"].items()
        ],
        "missingValues": [""],
        "primaryKey": list(table.key),
        "foreignKeys": [
            {"fields": [name], "reference": {"resource": other, "fields": [there]}}
            for name, (other, there) in table.refers.items()
        ],
    }


def _may_be_empty(described: dict[str, Any]) -> bool:
    return any(one.get("type") == "null" for one in described.get("anyOf", ()))


def _kind(described: dict[str, Any], kinds: dict[str, Any]) -> dict[str, Any]:
    """The JSON schema of a value where there is one, with what it refers to put in its place."""
    choices = (one for one in described.get("anyOf", ()) if one.get("type") != "null")
    found: dict[str, Any] = described | next(choices, {})
    named: dict[str, Any] = kinds.get(found.get("$ref", "").rpartition("/")[2], {})
    return named | found


def _field(name: str, kind: dict[str, Any], is_needed: bool) -> dict[str, Any]:
    constraints: dict[str, Any] = {"required": True} if is_needed else {}
    if "enum" in kind:
        constraints["enum"] = kind["enum"]
    made = {
        "name": name,
        "type": JSON_TYPES.get(kind.get("format", ""), kind["type"]),
        "description": kind["description"],
    }
    if "unit" in kind:
        made["unit"] = kind["unit"]
    return made | ({"constraints": constraints} if constraints else {})

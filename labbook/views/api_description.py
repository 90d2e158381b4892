"""The API described for people, made from the same document that programs read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import HttpResponse

from ..api import api
from ..parts import page
from ..requests import SignedIn

TYPES = {
    "integer": "whole number",
    "string": "text",
    "array": "list",
    "boolean": "true or false",
    "date-time": "moment",
}
# Which token an address asks for, by the name of its scheme.
KEYS = {"DeviceToken": "a device", "ProgramToken": "a program that reads"}


@dataclass(frozen=True)
class Field:
    name: str
    kind: str
    unit: str
    required: bool
    words: str


# What the fields are fields of, where it is not the whole, and the fields.
Table = tuple[str, list[Field]]


@dataclass(frozen=True)
class Endpoint:
    method: str
    path: str
    title: str
    words: list[str]
    key: str
    asks: list[Table]
    answers: list[tuple[str, list[Table]]]


@login_not_required
def api_description(request: SignedIn) -> HttpResponse:
    document: dict[str, Any] = api.get_openapi_schema()
    schemas = document["components"]["schemas"]
    endpoints = [
        _endpoint(method, path, described, schemas)
        for path, methods in document["paths"].items()
        for method, described in methods.items()
    ]
    sorted_by_key = sorted(endpoints, key=lambda endpoint: endpoint.key)
    refusal = _tables(schemas["Refusal"], schemas)
    context = {"described": document["info"], "endpoints": sorted_by_key, "refusal": refusal}
    return page(request, "devices/api.html", context)


def _endpoint(
    method: str, path: str, described: dict[str, Any], schemas: dict[str, Any]
) -> Endpoint:
    return Endpoint(
        method=method.upper(),
        path=path,
        title=described["summary"],
        words=described.get("description", "").split("\n\n"),
        key=KEYS[next(iter(described["security"][0]))],
        asks=[*_parameters(described, schemas), *_asked(described, schemas)],
        answers=_answers(described["responses"], schemas),
    )


def _parameters(described: dict[str, Any], schemas: dict[str, Any]) -> list[Table]:
    """What stands in the address."""
    fields = [
        _field(one["name"], {**one["schema"], **one}, schemas, required=one["required"])
        for one in described.get("parameters", ())
    ]
    return [("", fields)] if fields else []


def _asked(described: dict[str, Any], schemas: dict[str, Any]) -> list[Table]:
    return _tables(_schema_of(described.get("requestBody", {})), schemas)


def _answers(
    responses: dict[Any, dict[str, Any]], schemas: dict[str, Any]
) -> list[tuple[str, list[Table]]]:
    """Each form of an answer once, with the statuses it comes with."""
    forms: list[tuple[str, list[Table]]] = []
    for status, answer in responses.items():
        tables = _tables(_schema_of(answer), schemas)
        if forms and forms[-1][1] == tables:
            forms[-1] = (f"{forms[-1][0]}, {status}", tables)
        else:
            forms.append((str(status), tables))
    return forms


def _schema_of(part: dict[str, Any]) -> dict[str, Any]:
    schemas: list[dict[str, Any]] = [one["schema"] for one in part.get("content", {}).values()]
    return schemas[0] if schemas else {}


def _tables(schema: dict[str, Any], schemas: dict[str, Any]) -> list[Table]:
    """The fields of an object, then those of the objects its lists hold."""
    found = _resolved(schema, schemas)
    fields, inner = [], []
    for name, described in found.get("properties", {}).items():
        required = name in found.get("required", ())
        fields.append(_field(name, described, schemas, required=required))
        whole = _resolved(described, schemas)
        for below in (whole, whole.get("items", {})):
            if "properties" in _resolved(below, schemas):
                inner += [(name, table) for _, table in _tables(below, schemas)]
    return [("", fields), *inner] if fields else []


def _field(
    name: str, described: dict[str, Any], schemas: dict[str, Any], *, required: bool
) -> Field:
    whole = _resolved(described, schemas)
    words = whole.get("description", "")
    return Field(name, _kind(whole, schemas), whole.get("unit", ""), required, words)


def _resolved(schema: dict[str, Any], schemas: dict[str, Any]) -> dict[str, Any]:
    """A schema with what it refers to put in its place."""
    if "$ref" in schema:
        named: dict[str, Any] = schemas[schema["$ref"].rpartition("/")[2]]
        return named | schema
    return schema


def _kind(schema: dict[str, Any], schemas: dict[str, Any]) -> str:
    if "anyOf" in schema:
        kinds = (
            _kind(_resolved(one, schemas), schemas)
            for one in schema["anyOf"]
            if one.get("type") != "null"
        )
        return " or ".join(kinds)
    if "enum" in schema:
        return ", ".join(schema["enum"])
    kind = str(schema.get("format") or schema.get("type", ""))
    return TYPES.get(kind, kind)

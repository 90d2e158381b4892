"""The API described for people, made from the same document that programs read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import HttpResponse

from ..api import api
from ..parts import page
from ..requests import SignedIn

TYPES = {"integer": "whole number", "string": "text", "array": "list", "object": "object"}


@dataclass(frozen=True)
class Field:
    name: str
    kind: str
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
    context = {"described": document["info"], "endpoints": endpoints}
    return page(request, "devices/api.html", context)


def _endpoint(
    method: str, path: str, described: dict[str, Any], schemas: dict[str, Any]
) -> Endpoint:
    return Endpoint(
        method=method.upper(),
        path=path,
        title=described["summary"],
        words=described.get("description", "").split("\n\n"),
        asks=_tables(_schema_of(described.get("requestBody", {})), schemas),
        answers=_answers(described["responses"], schemas),
    )


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
    schema: dict[str, Any] = part.get("content", {}).get("application/json", {}).get("schema", {})
    return schema


def _tables(schema: dict[str, Any], schemas: dict[str, Any]) -> list[Table]:
    """The fields of an object, then those of the objects its lists hold."""
    found = _resolved(schema, schemas)
    fields, inner = [], []
    for name, described in found.get("properties", {}).items():
        whole = _resolved(described, schemas)
        required = name in found.get("required", ())
        fields.append(Field(name, _kind(whole), required, whole.get("description", "")))
        items = _resolved(whole.get("items", {}), schemas)
        if items.get("properties"):
            inner += [(name, table) for _, table in _tables(items, schemas)]
    return [("", fields), *inner] if fields else []


def _resolved(schema: dict[str, Any], schemas: dict[str, Any]) -> dict[str, Any]:
    """A schema with what it refers to put in its place."""
    if "$ref" in schema:
        named: dict[str, Any] = schemas[schema["$ref"].rpartition("/")[2]]
        return named | schema
    return schema


def _kind(schema: dict[str, Any]) -> str:
    if "anyOf" in schema:
        kinds = (_kind(one) for one in schema["anyOf"] if one.get("type") != "null")
        return " or ".join(kinds)
    if "enum" in schema:
        return ", ".join(schema["enum"])
    kind = str(schema.get("type", ""))
    return TYPES.get(kind, kind)

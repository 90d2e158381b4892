"""Evidence: rows that are written once, each linked by hash to the one before it in its book.

A book is what a row is about: a run, a standardization, a bench … The database itself refuses to
change or delete a row of evidence (``labbook.guards``); the links show it if that was got round.
"""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, date, datetime
from decimal import Decimal
from math import isfinite
from typing import Any

from django.db import models, transaction

BOOKS = ("run", "standardization", "bench", "hand_in", "group", "section", "sample", "term")


class Book(models.Model):
    """How many links a book has and the hash of its last: its head."""

    name = models.CharField(max_length=40, unique=True)
    length = models.PositiveIntegerField(default=0)
    head = models.CharField(max_length=64, blank=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.name


class Link(models.Model):
    """One row of evidence in its book: the row's digest, and the hash over all that went before."""

    book = models.ForeignKey(Book, on_delete=models.PROTECT, related_name="links")
    number = models.PositiveIntegerField()
    kind = models.CharField(max_length=40)
    record = models.BigIntegerField()
    digest = models.CharField(max_length=64)
    hash = models.CharField(max_length=64)

    class Meta:
        ordering = ["book", "number"]
        constraints = [
            models.UniqueConstraint(fields=["book", "number"], name="link_of_book"),
            models.UniqueConstraint(fields=["kind", "record"], name="linked_once"),
        ]

    def __str__(self) -> str:
        return f"link {self.number} of {self.book}"


class Altered(Exception):
    """A row of evidence was to be changed; a correction is a new row."""


class Evidence(models.Model):
    """Written once. ``LATER`` names the fields that stay open until they are filled in."""

    LATER: tuple[str, ...] = ()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            changed = set(kwargs.get("update_fields") or ["everything"])
            if not changed <= set(self.LATER):
                raise Altered(f"{self} is evidence; a correction is a new entry.")
            super().save(*args, **kwargs)
            return
        with transaction.atomic(savepoint=False):
            super().save(*args, **kwargs)
            append_link(self, self.LATER)


def append_link(row: models.Model, later: tuple[str, ...]) -> None:
    """Write the next link of the row's book. The book's own row is held until the commit."""
    book, _ = Book.objects.select_for_update().get_or_create(name=book_of(row))
    link = Link(
        book=book,
        number=book.length + 1,
        kind=row._meta.model_name or "",
        record=row.pk,
        digest=digest_of(row, later),
    )
    link.hash = hash_of(link, book.head)
    link.save(force_insert=True)
    Book.objects.filter(pk=book.pk).update(length=link.number, head=link.hash)


def book_of(row: models.Model) -> str:
    """The name of the book a row belongs to: “run 17”, “bench 3”."""
    for name in BOOKS:
        number = getattr(row, f"{name}_id", None)
        if number is not None:
            return f"{name} {number}"
    raise TypeError(f"{type(row).__name__} is about none of {', '.join(BOOKS)}")


def hash_of(link: Link, before: str) -> str:
    text = "\n".join([before, str(link.number), link.kind, str(link.record), link.digest])
    return hashlib.sha256(text.encode()).hexdigest()


def digest_of(row: models.Model, later: tuple[str, ...] = ()) -> str:
    """SHA-256 of a row's values, the same on every database.

    Values left empty are left out, so that a column added later changes no earlier digest.
    """
    values = {
        field.attname: _plain(field, getattr(row, field.attname))
        for field in row._meta.concrete_fields
        if field.name not in later
    }
    kept = {name: value for name, value in values.items() if value not in (None, "")}
    text = json.dumps(kept, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def _plain(field: models.Field[Any, Any], value: Any) -> Any:
    """A value as it comes back from the database, in JSON's own types."""
    if value is None or isinstance(field, models.JSONField):
        return _canonical(value)
    if isinstance(field, models.BinaryField):
        return hashlib.sha256(bytes(value)).hexdigest()
    if isinstance(field, models.ForeignKey):
        return int(value)
    value = field.to_python(value)
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="microseconds")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        places = getattr(field, "decimal_places", 0)
        return str(value.quantize(Decimal(1).scaleb(-places)))
    return str(value) if isinstance(value, str) else _canonical(value)


def _canonical(value: Any) -> Any:
    """JSON whose numbers are written alike whatever database they went through.

    PostgreSQL keeps no sign of zero and writes exponents out.
    """
    if isinstance(value, dict):
        return {str(key): _canonical(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_canonical(item) for item in value]
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        return value
    return int(value) if value == int(value) and abs(value) < 2**53 else float(value)

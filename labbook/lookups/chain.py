"""Whether the evidence is as it was written: every book walked from its first link to its head."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Any

from django.db import DEFAULT_DB_ALIAS
from django.db.models import Exists, OuterRef

from ..guards import guarded_models, missing_guards
from ..models.evidence import Book, Evidence, Link, digest_of, hash_of

AT_ONCE = 500


@dataclass(frozen=True)
class Break:
    """Something that is not as it was written; ``where`` names the book and the link."""

    where: str
    sentence: str


@dataclass(frozen=True)
class Verified:
    books: int
    links: int
    breaks: tuple[Break, ...]
    heads: str

    @property
    def is_whole(self) -> bool:
        return not self.breaks


def verify_evidence(
    kept: dict[str, list[Any]] | None = None, using: str = DEFAULT_DB_ALIAS
) -> Verified:
    """Walk every book, then look for rows without a link and for guards that are gone.

    ``kept`` are heads kept earlier (``heads``): every book must go on from there. ``using`` names
    another database than the record's own: a copy of it, or what it was moved to.
    """
    breaks = [*_broken_books(using), *_unlinked_rows(using), *_missing_guards(using)]
    return Verified(
        books=Book.objects.using(using).count(),
        links=Link.objects.using(using).count(),
        breaks=(*breaks, *not_since(kept or {}, using)),
        heads=digest_of_heads(using),
    )


def digest_of_heads(using: str = DEFAULT_DB_ALIAS) -> str:
    """One number for the whole record as it stands: kept elsewhere, it dates what was there."""
    lines = (f"{name} {length} {head}" for name, length, head in _heads(using))
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def heads(using: str = DEFAULT_DB_ALIAS) -> dict[str, list[Any]]:
    """How far every book has come, to be kept off this machine."""
    return {name: [length, head] for name, length, head in _heads(using)}


def not_since(kept: dict[str, list[Any]], using: str = DEFAULT_DB_ALIAS) -> Iterator[Break]:
    """The books that do not go on from heads kept earlier: their end was cut off or rewritten."""
    for name, (length, head) in kept.items():
        link = Link.objects.using(using).filter(book__name=name, number=length).first()
        if link is None:
            yield Break(name, f"It had {length} links when the heads were kept; it has fewer now.")
        elif link.hash != head:
            yield Break(f"{name}, link {length}", "It was rewritten since the heads were kept.")


def _heads(using: str) -> list[tuple[str, int, str]]:
    return sorted(Book.objects.using(using).values_list("name", "length", "head"))


def _broken_books(using: str) -> Iterator[Break]:
    """The first break of each book."""
    for book in Book.objects.using(using).order_by("pk").iterator():
        found = _first_break(book)
        if found is not None:
            yield found


def _first_break(book: Book) -> Break | None:
    before, number = "", 0
    links = book.links.order_by("number").iterator(chunk_size=AT_ONCE)
    while batch := list(islice(links, AT_ONCE)):
        rows = _rows_of(batch, str(book._state.db))
        for link in batch:
            number += 1
            sentence = _what_is_wrong(link, number, before, rows)
            if sentence:
                return Break(f"{book.name}, link {link.number}", sentence)
            before = link.hash
    if (number, before) != (book.length, book.head):
        sentence = f"The book ends after {number} links; {book.length} were written."
        return Break(book.name, sentence)
    return None


def _rows_of(batch: list[Link], using: str) -> dict[tuple[str, int], Any]:
    """The rows that these links are about, kind by kind."""
    models = {model._meta.model_name: model for model in guarded_models() if model is not Link}
    rows: dict[tuple[str, int], Any] = {}
    for kind in {link.kind for link in batch}:
        if kind not in models:
            continue
        wanted = [link.record for link in batch if link.kind == kind]
        found = models[kind]._base_manager.using(using).in_bulk(wanted)
        rows.update({(kind, pk): row for pk, row in found.items()})
    return rows


def _what_is_wrong(link: Link, number: int, before: str, rows: dict[tuple[str, int], Any]) -> str:
    if link.number != number:
        return f"Link {number} is missing."
    if link.hash != hash_of(link, before):
        return "The link does not follow from the one before it."
    row = rows.get((link.kind, link.record))
    if row is None:
        return f"{link.kind} {link.record} is gone."
    if digest_of(row, row.LATER) != link.digest:
        return f"{link.kind} {link.record} is not as it was written."
    return ""


def _unlinked_rows(using: str) -> Iterator[Break]:
    """Rows of evidence that were put in past the record's own code."""
    for model in guarded_models():
        if not issubclass(model, Evidence):
            continue
        kind = model._meta.model_name
        linked = Link.objects.filter(kind=kind, record=OuterRef("pk"))
        unlinked = model._base_manager.using(using).filter(~Exists(linked)).order_by("pk")
        for pk in unlinked.values_list("pk", flat=True)[:20]:
            yield Break(f"{kind} {pk}", "This row was not written by the record: it has no link.")


def _missing_guards(using: str) -> Iterator[Break]:
    for name in missing_guards(using):
        yield Break("database", f"The guard {name} is gone; `manage.py migrate` puts it back.")

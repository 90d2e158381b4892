"""What was done to keep the record itself is noted, whether it went well or not."""

from __future__ import annotations

from typing import Any

from django.db import DEFAULT_DB_ALIAS

from .. import clock
from ..access import require
from ..lookups.chain import Verified, verify_evidence
from ..models import Account, Upkeep

LONGEST = 400


def note_upkeep(
    kind: str,
    words: str,
    *,
    is_fine: bool,
    by: Account | None,
    details: dict[str, Any] | None = None,
    using: str = DEFAULT_DB_ALIAS,
) -> Upkeep:
    """Keep one line of upkeep. ``by`` is None for what the machine's own account did."""
    if by is not None:
        require(by, "keep the record")
    return Upkeep.objects.using(using).create(
        kind=kind,
        at=clock.now(),
        is_fine=is_fine,
        words=words[:LONGEST],
        details=(details or {}) | ({} if by is None else {"by": by.pk}),
    )


def verify(kept: dict[str, list[Any]] | None = None, *, by: Account | None) -> Verified:
    """Walk the chains and note what was found."""
    if by is not None:
        require(by, "keep the record")
    begun = clock.now()
    found = verify_evidence(kept)
    details = {
        "books": found.books,
        "links": found.links,
        "heads": found.heads,
        "seconds": round((clock.now() - begun).total_seconds(), 1),
    }
    note_upkeep(
        Upkeep.Kind.VERIFY, _words_of(found), is_fine=found.is_whole, by=by, details=details
    )
    return found


def _words_of(found: Verified) -> str:
    counted = f"{found.links} rows of evidence in {found.books} books"
    if found.is_whole:
        return f"{counted}, all as they were written."
    first = found.breaks[0]
    more = f" and {len(found.breaks) - 1} more" if len(found.breaks) > 1 else ""
    return f"{counted}. {first.where}: {first.sentence}{more}"

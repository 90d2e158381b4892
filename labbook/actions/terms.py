"""A term begun from the last one, and closed with its archive."""

from __future__ import annotations

import hashlib
from datetime import timedelta
from pathlib import Path

from django.conf import settings
from django.db import transaction

from .. import clock
from ..access import require
from ..lookups.archives import archive_name, archive_of
from ..models import Account, Group, Sample, Section, Term, TermClosing
from ..problems import refuse_if_blocked
from ..problems.terms import with_closing
from .setup import keep


@transaction.atomic
def begin_term(
    term: Term,
    basis: Term,
    *,
    assistants: bool = True,
    bookings: bool = True,
    samples: bool = False,
    by: Account,
) -> Term:
    """Make a term with the last one's sections and groups, without its people.

    TAs, benches and the sample list come along where they are wanted. Samples are sealed again.
    """
    require(by, "set up")
    keep(term, by=by)
    for old in basis.sections.order_by("pk"):
        section = Section(term=term, name=old.name, meets=old.meets)
        keep(section, by=by)
        if assistants:
            section.assistants.set(old.assistants.filter(is_active=True))
        for group in old.groups.select_related("bench").order_by("pk"):
            bench = group.bench if bookings else None
            keep(Group(section=section, code=group.code, bench=bench), by=by)
    if samples:
        _copy_samples(term, basis, by)
    return term


def _copy_samples(term: Term, basis: Term, by: Account) -> None:
    later: timedelta = term.starts - basis.starts
    for old in basis.samples.order_by("pk"):
        sample = Sample(
            term=term,
            label=old.label,
            substance=old.substance,
            max_charge_g=old.max_charge_g,
            lot=old.lot,
            difficulty=old.difficulty,
            reveal_on=old.reveal_on and old.reveal_on + later,
        )
        keep(sample, by=by)


def archives() -> Path:
    """The folder of the archives, beside the database."""
    folder: Path = settings.DATA_DIR / "archives"
    folder.mkdir(exist_ok=True)
    return folder


@transaction.atomic
def close_term(term: Term, *, by: Account) -> TermClosing:
    """Keep the archive of a term without its people, and let nothing of it change any more."""
    require(by, "set up")
    term = Term.objects.select_for_update().get(pk=term.pk)
    refuse_if_blocked(with_closing(term))
    content, counts = archive_of(term)
    closing = TermClosing.objects.create(
        term=term, archive_name=archive_name(term), counts=counts, at=clock.now(), by=by,
        archive_sha256=hashlib.sha256(content).hexdigest(),
    )  # fmt: skip
    for account in Account.objects.filter(group__section__term=term, is_active=True):
        account.is_active = False
        keep(account, by=by)
    (archives() / closing.archive_name).write_bytes(content)
    return closing

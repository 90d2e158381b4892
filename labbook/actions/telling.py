"""Telling the coordinators by mail that a bench stands differently, where that is switched on."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.conf import settings
from django.core.mail import send_mail
from django.db import transaction
from django.utils.text import capfirst

from ..lookups.history import BenchHistory, all_histories
from ..models import Account, Bench, Role


@contextmanager
def telling_of_change(bench: Bench) -> Iterator[None]:
    """Mail the coordinators if the bench stands differently after what is done inside.

    Sent once it is committed; mail that cannot be sent is logged and undoes nothing.
    """
    if not settings.LABBOOK_MAIL_STANDING:
        yield
        return
    before = _history(bench).standing
    yield
    after = _history(bench)
    if after.standing != before:
        transaction.on_commit(lambda: _mail(before, after), robust=True)


def _history(bench: Bench) -> BenchHistory:
    return next(found for found in all_histories() if found.bench.pk == bench.pk)


def _mail(before: str, after: BenchHistory) -> None:
    coordinators = Account.objects.filter(role=Role.COORDINATOR, is_active=True).exclude(email="")
    subject = capfirst(f"{after.bench}: {after.standing}")
    words = "\n".join(after.reasons)
    send_mail(
        subject,
        f"{subject} (before: {before}).\n\n{words}\n",
        from_email=None,
        recipient_list=list(coordinators.values_list("email", flat=True)),
    )

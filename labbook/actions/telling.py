"""Telling the coordinators by mail that benches stand differently, where that is switched on."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from django.conf import settings
from django.core.mail import send_mail
from django.db import transaction
from django.utils.text import capfirst

from ..lookups.history import all_histories
from ..lookups.phases import BenchHistory
from ..models import Account, Role

BY_THE_OTHERS = (
    "None of its own values changed: the benches are judged by what is known of the scatter of "
    "all of them, and that did."
)


@dataclass(frozen=True)
class Told:
    """A bench that stands differently, with the history it had before."""

    before: BenchHistory
    after: BenchHistory

    @property
    def head(self) -> str:
        return f"{self.after.bench}: {self.after.standing}"

    @property
    def words(self) -> str:
        first = f"{capfirst(self.head)} (before: {self.before.standing})."
        reasons = list(self.after.reasons)
        if _counted(self.before) == _counted(self.after):
            reasons.append(BY_THE_OTHERS)
        return "\n".join([first, "", *reasons])


@contextmanager
def telling_of_change() -> Iterator[None]:
    """Mail the coordinators if any bench stands differently after what is done inside.

    All benches are asked, since each is judged by the scatter of the others too. Sent once it is
    committed; mail that cannot be sent is logged and undoes nothing.
    """
    if not settings.LABBOOK_MAIL_STANDING:
        yield
        return
    before = {history.bench.pk: history for history in all_histories()}
    yield
    told = [
        Told(before[after.bench.pk], after)
        for after in all_histories()
        if after.bench.pk in before and after.standing != before[after.bench.pk].standing
    ]
    if told:
        transaction.on_commit(lambda: _mail(told), robust=True)


def _counted(history: BenchHistory) -> list[list[float]]:
    return [phase.counted for phase in history.phases]


def _mail(told: list[Told]) -> None:
    coordinators = Account.objects.filter(role=Role.COORDINATOR, is_active=True).exclude(email="")
    send_mail(
        capfirst("; ".join(one.head for one in told)),
        "\n\n".join(one.words for one in told) + "\n",
        from_email=None,
        recipient_list=list(coordinators.values_list("email", flat=True)),
    )

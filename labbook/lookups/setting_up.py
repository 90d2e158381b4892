"""What a laboratory still lacks before its first afternoon."""

from __future__ import annotations

from collections.abc import Iterable

from .. import clock
from ..models import Account, Bench, Group, Role

NAMED = 4


def lacking() -> dict[str, str]:
    """A sentence for each kind of set-up record that is begun but not enough."""
    bare = Bench.objects.filter(configurations__isnull=True)
    groups = Group.objects.filter(section__term__ends__gte=clock.today())
    sentences = {
        "benches": _sentence("Not recorded what it is made of", bare),
        "groups": _sentence("No bench booked", groups.filter(bench__isnull=True)),
        "sign-ins": _sentence("Groups without one", groups.filter(account__isnull=True)),
    }
    if not Account.objects.filter(role=Role.ASSISTANT, is_active=True).exists():
        sentences["sign-ins"] = "No TA has one yet."
    return {key: sentence for key, sentence in sentences.items() if sentence}


def _sentence(words: str, records: Iterable[object]) -> str:
    names = [str(record) for record in records]
    more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    return f"{words}: {', '.join(names[:NAMED])}{more}." if names else ""

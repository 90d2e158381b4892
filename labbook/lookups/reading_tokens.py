"""Tokens of programs that read: whose they are, and which are in force."""

from __future__ import annotations

from django.db.models import QuerySet

from ..access import Reach, may, reach_of
from ..models import Account, Device, ReadingToken
from .devices import LONGEST_TOKEN

KEEPING = "keep reading tokens"


def reading_token_with(token: str) -> ReadingToken | None:
    """The token in force that this is; its account must still be one that may have tokens."""
    if not token or len(token) > LONGEST_TOKEN:
        return None
    digest = Device.digest(token)
    tokens = ReadingToken.objects.filter(token_sha256=digest, revoked_at=None)
    found = tokens.select_related("account__group").first()
    return found if found is not None and may(found.account, KEEPING) else None


def visible_tokens(account: Account) -> QuerySet[ReadingToken]:
    """A TA's own; for a coordinator those of everybody, the newest first."""
    tokens = ReadingToken.objects.select_related("account").order_by("-made_at", "-pk")
    reach = reach_of(account, KEEPING)
    if reach is Reach.ALL:
        return tokens
    return tokens.filter(account=account) if reach else tokens.none()

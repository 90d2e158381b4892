"""Tokens of programs that read: made, used, ended."""

from __future__ import annotations

import secrets
from datetime import timedelta

from django.db import transaction
from django.db.models import Q

from .. import clock
from ..access import require
from ..lookups.reading_tokens import KEEPING, visible_tokens
from ..models import Account, Device, ReadingToken
from ..problems import check_length, refuse

LONGEST_NAME = 60
# A use is written down again after this long, so that reading costs no write each time.
USE_NOTED_EVERY = timedelta(minutes=1)


@transaction.atomic
def make_reading_token(name: str, *, by: Account) -> tuple[ReadingToken, str]:
    """A token with the rights of the account, not to be had again: its digest is kept."""
    require(by, KEEPING)
    name = name.strip()
    if not name:
        raise refuse("name", "Say what it is for, such as the program that will use it.", "name")
    check_length(name, LONGEST_NAME, "name")
    if by.reading_tokens.filter(name=name, revoked_at=None).exists():
        sentence = f"You have a token “{name}” already. Give another name, or end that one."
        raise refuse("name", sentence, "name")
    token = secrets.token_urlsafe(32)
    made = ReadingToken.objects.create(
        account=by, name=name, token_sha256=Device.digest(token), token_end=token[-4:],
        made_at=clock.now(),
    )  # fmt: skip
    return made, token


@transaction.atomic
def revoke_reading_token(token: ReadingToken, *, by: Account) -> ReadingToken:
    """End a token for good: an own one, or as a coordinator anybody’s."""
    require(by, KEEPING)
    held = visible_tokens(by).filter(pk=token.pk).select_for_update(of=("self",)).first()
    if held is None:
        raise refuse("token", "This token is not yours. Ask a coordinator to end it.")
    if held.is_revoked:
        raise refuse("revoked", f"The token {held} was ended before.")
    held.revoked_at = clock.now()
    held.save(update_fields=["revoked_at"])
    return held


def note_use(token: ReadingToken) -> None:
    """When the token was last used, to the minute."""
    now = clock.now()
    lately = Q(last_used_at__isnull=True) | Q(last_used_at__lt=now - USE_NOTED_EVERY)
    ReadingToken.objects.filter(lately, pk=token.pk).update(last_used_at=now)

"""Groups that share a PC: each signs in once, and one of them at a time is acted for.

The session keeps the others' account numbers with their session hashes, so that a changed
password or a closed sign-in ends it. Staff are never kept: a TA's or a coordinator's sign-in
stands alone.
"""

from __future__ import annotations

from django.contrib.auth import BACKEND_SESSION_KEY, login
from django.utils.crypto import constant_time_compare

from .models import Account, Role
from .requests import SignedIn

KEPT = "also_here"


def also_here(request: SignedIn) -> list[Account]:
    """The other groups signed in at this PC, as far as their sign-ins still hold."""
    kept: dict[str, str] = request.session.get(KEPT, {})
    if not kept or request.user.role != Role.GROUP:
        return []
    found = Account.objects.filter(pk__in=kept, role=Role.GROUP, is_active=True)
    others = found.exclude(pk=request.user.pk).select_related("group__section__term")
    return [
        account
        for account in others.order_by("name")
        if constant_time_compare(kept[str(account.pk)], account.get_session_auth_hash())
    ]


def sign_in_here(request: SignedIn, account: Account, backend: str | None = None) -> None:
    """Act for this account from now on, in a new session; groups signed in before are kept."""
    before = request.user
    both_groups = before.is_authenticated and before.role == account.role == Role.GROUP
    others = [before, *also_here(request)] if both_groups else []
    login(request, account, backend)
    kept = {str(a.pk): a.get_session_auth_hash() for a in others if a.pk != account.pk}
    request.session[KEPT] = kept


def switch_to(request: SignedIn, account: Account) -> None:
    """Act for another group that is signed in here, checked by ``also_here``."""
    sign_in_here(request, account, request.session[BACKEND_SESSION_KEY])

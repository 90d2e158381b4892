"""Which sign-in of the record goes with a name that the campus sign-on gave."""

from __future__ import annotations

from django.db.models import Q

from .. import clock
from ..models import Account, Membership


def account_named(name: str) -> Account | None:
    """A member of staff by the name entered for them; a student's group by its running term."""
    if not name:
        return None
    own = Account.objects.filter(campus_name=name, is_active=True).first()
    return own or _account_of_group(name)


def _account_of_group(name: str) -> Account | None:
    """By student number or roster; of two groups the one joined last."""
    today = clock.today()
    known = Q(person__student_number=name) | Q(person__roster_id=name)
    found = Membership.objects.filter(
        known,
        until__isnull=True,
        group__account__is_active=True,
        group__section__term__starts__lte=today,
        group__section__term__ends__gte=today,
    )
    newest = found.select_related("group__account").order_by("-since", "-pk").first()
    return newest.group.account if newest else None

"""Groups within an account's reach, and what a course usually does."""

from __future__ import annotations

from django.db.models import QuerySet

from .. import clock
from ..access import Reach, reach_of
from ..models import Account, Group, Method, Term


def visible_groups(account: Account) -> QuerySet[Group]:
    """Groups of the terms still running: the own one, those of a TA's sections, or all."""
    running = Group.objects.filter(section__term__ends__gte=clock.today()).select_related(
        "section__term__method", "bench"
    )
    reach = reach_of(account, "see run")
    if reach is Reach.ALL:
        return running
    if reach is Reach.SECTIONS:
        return running.filter(section__in=account.sections.values("pk"))
    return running.filter(account=account)


def usual_method() -> Method | None:
    """The method of the newest term; None in a laboratory not set up yet."""
    term = Term.objects.select_related("method").order_by("-starts").first()
    return term.method if term else None

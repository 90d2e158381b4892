"""Who may see or do what, to whose things: one table, asked by everything."""

from __future__ import annotations

from enum import Enum
from typing import TYPE_CHECKING

from django.core.exceptions import PermissionDenied
from django.db.models import Q

from .models import Account, Bench, Group, HandIn, Role, Run, Sample, Section, Standardization

if TYPE_CHECKING:
    from django.db.models import Model


class Reach(Enum):
    OWN = "the group's own"
    SECTIONS = "those of the sections a TA looks after"
    TERMS = "those of the terms a TA has a section in"
    ALL = "all"


GROUP, ASSISTANT, COORDINATOR = Role.GROUP, Role.ASSISTANT, Role.COORDINATOR

RIGHTS: dict[str, dict[str, Reach]] = {
    "use the record": {GROUP: Reach.ALL, ASSISTANT: Reach.ALL, COORDINATOR: Reach.ALL},
    "see run": {GROUP: Reach.OWN, ASSISTANT: Reach.SECTIONS, COORDINATOR: Reach.ALL},
    "open run": {GROUP: Reach.OWN},
    "fill in sheet": {GROUP: Reach.OWN, ASSISTANT: Reach.SECTIONS},
    "enter hand figures": {GROUP: Reach.OWN},
    "confirm literature": {ASSISTANT: Reach.SECTIONS, COORDINATOR: Reach.ALL},
    "set run aside": {ASSISTANT: Reach.SECTIONS, COORDINATOR: Reach.ALL},
    "unlock limit": {ASSISTANT: Reach.SECTIONS, COORDINATOR: Reach.ALL},
    "sign run": {ASSISTANT: Reach.SECTIONS, COORDINATOR: Reach.ALL},
    "see standardization": {GROUP: Reach.OWN, ASSISTANT: Reach.SECTIONS, COORDINATOR: Reach.ALL},
    "put standardization forward": {GROUP: Reach.OWN},
    "decide standardization": {ASSISTANT: Reach.SECTIONS, COORDINATOR: Reach.ALL},
    "hand in": {GROUP: Reach.OWN},
    "see hand-in": {GROUP: Reach.OWN, ASSISTANT: Reach.SECTIONS, COORDINATOR: Reach.ALL},
    "mark": {ASSISTANT: Reach.SECTIONS, COORDINATOR: Reach.ALL},
    "mark shared hand-in": {ASSISTANT: Reach.TERMS, COORDINATOR: Reach.ALL},
    "give marks out": {ASSISTANT: Reach.SECTIONS, COORDINATOR: Reach.ALL},
    "see marks": {GROUP: Reach.OWN, ASSISTANT: Reach.SECTIONS, COORDINATOR: Reach.ALL},
    "see sample identity": {ASSISTANT: Reach.ALL, COORDINATOR: Reach.ALL},
    "reveal sample": {COORDINATOR: Reach.ALL, ASSISTANT: Reach.SECTIONS},
    "issue sample": {COORDINATOR: Reach.ALL, ASSISTANT: Reach.SECTIONS},
    "see benches": {ASSISTANT: Reach.ALL, COORDINATOR: Reach.ALL},
    "look after section": {ASSISTANT: Reach.SECTIONS, COORDINATOR: Reach.ALL},
    "compare term": {ASSISTANT: Reach.SECTIONS, COORDINATOR: Reach.ALL},
    "look for likeness": {ASSISTANT: Reach.SECTIONS, COORDINATOR: Reach.ALL},
    "see review desk": {ASSISTANT: Reach.SECTIONS, COORDINATOR: Reach.ALL},
    "change bench": {COORDINATOR: Reach.ALL},
    "keep devices": {COORDINATOR: Reach.ALL},
    "keep reading tokens": {ASSISTANT: Reach.OWN, COORDINATOR: Reach.ALL},
    "publish open data": {COORDINATOR: Reach.ALL},
    "report fault": {GROUP: Reach.OWN, ASSISTANT: Reach.ALL, COORDINATOR: Reach.ALL},
    "keep bench log": {ASSISTANT: Reach.ALL, COORDINATOR: Reach.ALL},
    "take bench out of service": {ASSISTANT: Reach.ALL, COORDINATOR: Reach.ALL},
    "release overdue bench": {ASSISTANT: Reach.ALL, COORDINATOR: Reach.ALL},
    "set up": {COORDINATOR: Reach.ALL},
    "keep the record": {COORDINATOR: Reach.ALL},
    "rereduce": {COORDINATOR: Reach.ALL},
}


def reach_of(account: Account, deed: str) -> Reach | None:
    """How far an account's right to a deed reaches; None where it has none."""
    if not account.is_active:
        return None
    return RIGHTS[deed].get(account.role)


def group_of(thing: Model) -> Group | None:
    if isinstance(thing, Group):
        return thing
    if isinstance(thing, Run | Standardization | HandIn):
        return thing.group
    return None


def group_id_of(thing: Model) -> int | None:
    """The group's number, without fetching the group."""
    return thing.pk if isinstance(thing, Group) else getattr(thing, "group_id", None)


def may(account: Account, deed: str, thing: Model | None = None) -> bool:
    """Whether an account may do a deed, to a given thing where one is named."""
    reach = reach_of(account, deed)
    if reach is None:
        return False
    if thing is None or reach is Reach.ALL:
        return True
    if isinstance(thing, Bench):
        return account.group is not None and account.group.bench_id == thing.pk
    if isinstance(thing, Sample):
        return thing.term.sections.filter(assistants=account).exists()
    if isinstance(thing, Section):
        return thing.assistants.filter(pk=account.pk).exists()
    if reach is Reach.OWN:
        return account.group_id is not None and group_id_of(thing) == account.group_id
    group = group_of(thing)
    if group is None:
        return False
    if reach is Reach.TERMS:
        return account.sections.filter(term=group.section.term_id).exists()
    return group.section.assistants.filter(pk=account.pk).exists()


def require(account: Account, deed: str, thing: Model | None = None) -> None:
    """Raise PermissionDenied, with a sentence, where ``may`` says no."""
    if not may(account, deed, thing):
        role = Role(account.role).label
        raise PermissionDenied(f"A {role} sign-in may not do this here: {deed}.")


def within_reach(account: Account, deed: str, to_group: str = "group") -> Q:
    """The filter that keeps a queryset to what the account may do the deed to.

    ``to_group`` is the lookup path from the queryset's model to its group.
    """
    reach = reach_of(account, deed)
    if reach is Reach.ALL:
        return Q()
    if reach is Reach.OWN:
        return Q(**{to_group: account.group_id})
    if reach is Reach.SECTIONS:
        return Q(**{f"{to_group}__section__in": account.sections.values("pk")})
    if reach is Reach.TERMS:
        return Q(**{f"{to_group}__section__term__in": account.sections.values("term")})
    return Q(pk__in=[])

"""Marking without knowing whose work it is: a number in place of the group, names out of its words.

The number comes from the server's secret key, so that no code, list or address leads back to it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable

from django.utils.crypto import salted_hmac

from ..models import Account, Bench, Group, HandIn, Membership, Person, Term
from .snapshots import Record

SMALLEST, COUNT = 1000, 9000
HIDDEN = "…"
SHORTEST_NAME = 3
Veil = Callable[[str], str]


def blind_numbers(term: Term) -> dict[int, int]:
    """Four figures for each group of a term, by the group's key; a later group changes none."""
    numbers: dict[int, int] = {}
    taken: set[int] = set()
    keys = Group.objects.filter(section__term=term).order_by("pk").values_list("pk", flat=True)
    for key in keys:
        drawn = int(salted_hmac("labbook.marking", str(key)).hexdigest(), 16) % COUNT
        while drawn in taken:
            drawn = (drawn + 1) % COUNT
        taken.add(drawn)
        numbers[key] = SMALLEST + drawn
    return numbers


def in_plain_sight(text: str) -> str:
    return text


def veil_over(hand_in: HandIn, record: Record) -> Veil:
    """Takes out of any text what would tell whose work it is."""
    words = sorted(filter(None, _telling(hand_in.group, record)), key=len, reverse=True)
    pattern = re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, words))})(?!\w)", re.IGNORECASE)
    return lambda text: pattern.sub(HIDDEN, text)


def _telling(group: Group, record: Record) -> Iterable[str]:
    """The group's code and sign-in, its people by any of their names, its benches and vials."""
    yield group.code
    for account in Account.objects.filter(group=group):
        yield from (account.username, account.name)
    for person in _people(group, record):
        yield from (person.name, person.student_number)
        yield from (part for part in person.name.split() if len(part) >= SHORTEST_NAME)
    codes = {run["bench"] for run in record["runs"]}
    for bench in Bench.objects.filter(code__in=codes):
        yield from (bench.code, bench.place)
    yield from (run["sample"] or "" for run in record["runs"])


def _people(group: Group, record: Record) -> Iterable[Person]:
    present = {number for run in record["runs"] for number in run["evidence"]["present"]}
    members = Membership.objects.filter(group=group).values("person")
    found = Person.objects.filter(pk__in=present) | Person.objects.filter(pk__in=members)
    return found.distinct()

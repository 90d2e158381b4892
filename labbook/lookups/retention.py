"""What is kept how long, what is due to go, and what stands against it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, OuterRef, Q, QuerySet

from .. import clock
from ..models import LegalHold, Mark, Membership, Person, Purge, Term

What = Purge.What


@dataclass(frozen=True)
class Due:
    """One class of a term's data: how long it is kept, and what would go."""

    term: Term
    what: str
    until: date | None
    count: int
    left: int = 0  # people of the term who are kept for another term

    @property
    def words(self) -> str:
        return What(self.what).label

    @property
    def is_over(self) -> bool:
        return self.until is not None and self.until < clock.today()


def due_of(term: Term) -> list[Due]:
    people = people_to_go(term)
    everyone = _named(term).count()
    return [
        Due(term, What.NAMES, term.names_until, people.count(), everyone - people.count()),
        Due(term, What.MARKS, term.marks_until, marks_to_go(term).count()),
    ]


def _named(term: Term) -> QuerySet[Person]:
    found = Person.objects.filter(memberships__group__section__term=term)
    return found.filter(pseudonymized_at__isnull=True).distinct()


def people_to_go(term: Term) -> QuerySet[Person]:
    """The term's people, but for those whom another term still keeps by name."""
    still_kept = Q(group__section__term__names_until__isnull=True) | Q(
        group__section__term__names_until__gte=clock.today()
    )
    held = Q(group__section__term__holds__lifted_at__isnull=True) & Q(
        group__section__term__holds__isnull=False
    )
    elsewhere = Membership.objects.filter(still_kept | held, person=OuterRef("pk"))
    return _named(term).filter(~Exists(elsewhere.exclude(group__section__term=term)))


def marks_to_go(term: Term) -> QuerySet[Mark]:
    return Mark.objects.filter(hand_in__group__section__term=term)


def standing_hold(term: Term) -> LegalHold | None:
    return term.holds.filter(lifted_at__isnull=True).select_related("by").first()

"""Practice terms: for training, with invented readings that enter no chart and no count."""

from __future__ import annotations

from django.db.models import Model, QuerySet

from ..models import Group, LoggerFile, Run, Sample, Section, Standardization, Term


def practice_groups() -> QuerySet[Group]:
    return Group.objects.filter(section__term__is_practice=True)


def is_of_practice(thing: Model | None) -> bool:
    """Whether a record belongs to a practice term; what belongs to no term does not."""
    term = _term_of(thing)
    return term is not None and term.is_practice


def _term_of(thing: Model | None) -> Term | None:
    if isinstance(thing, LoggerFile):
        thing = thing.run
    if isinstance(thing, Run | Standardization):
        thing = thing.group
    if isinstance(thing, Group):
        thing = thing.section
    if isinstance(thing, Section | Sample):
        thing = thing.term
    return thing if isinstance(thing, Term) else None

"""Which sample to give to which group: neighbours differ, difficulty is even over the groups."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from functools import partial
from itertools import pairwise
from statistics import fmean

from ..models import Group, Sample, SampleIssue, Section
from .samples import in_bench_order, issues_of


@dataclass
class Place:
    """A group where it stands, what it was given so far, and what it is to have."""

    group: Group
    issues: list[SampleIssue] = field(default_factory=list)
    proposed: Sample | None = None

    @property
    def holds(self) -> Sample | None:
        return self.issues[-1].sample if self.issues else None

    @property
    def had(self) -> list[Sample]:
        return [issue.sample for issue in self.issues]


def samples_to_give(section: Section) -> list[Sample]:
    """What a section's groups may be given: the term's samples that are still hidden."""
    return list(Sample.objects.filter(term=section.term_id, revealed_at__isnull=True))


def places_of(section: Section, *, anew: bool = False) -> list[Place]:
    """The section's groups in bench order, each with what it keeps or what is proposed.

    A group keeps what it holds; ``anew`` proposes the next sample for all of them.
    """
    groups = in_bench_order(section)
    issues = issues_of(groups)
    places = [Place(group, issues[group.pk]) for group in groups]
    samples = samples_to_give(section)
    for place in places:
        if not anew and place.holds in samples:
            place.proposed = place.holds
    propose(places, samples)
    return places


def propose(places: list[Place], samples: list[Sample]) -> None:
    """Fill in every place without a proposal, from one end of the room to the other.

    Of the samples that differ from both neighbours, and that the group has not had, it takes the
    one that brings what the group was given nearest to the average difficulty.
    """
    if not samples:
        return
    average = fmean(sample.difficulty for sample in samples)
    given = Counter(place.proposed for place in places)
    for number, place in enumerate(places):
        if place.proposed is None:
            cost = partial(_cost, place, _beside(places, number), average, given)
            place.proposed = min(samples, key=cost)
            given[place.proposed] += 1


def _cost(
    place: Place,
    beside: list[Sample],
    average: float,
    given: Counter[Sample | None],
    sample: Sample,
) -> tuple[float, ...]:
    """What speaks against a sample, the weightiest first."""
    total = sum(had.difficulty for had in place.had) + sample.difficulty
    off = abs(total - average * (len(place.had) + 1))
    return (beside.count(sample), sample in place.had, off, given[sample])


def _beside(places: list[Place], number: int) -> list[Sample]:
    neighbours = places[max(number - 1, 0) : number] + places[number + 1 : number + 2]
    return [place.proposed for place in neighbours if place.proposed is not None]


def neighbours_alike(places: list[Place]) -> list[tuple[Group, Group, Sample]]:
    """Neighbours that hold the same sample now."""
    pairs = pairwise(places)
    return [
        (left.group, right.group, left.holds)
        for left, right in pairs
        if left.holds is not None and left.holds == right.holds
    ]

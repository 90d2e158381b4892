"""What is proposed: neighbours differ, and difficulty is even over the groups."""

from __future__ import annotations

import pytest
from django.utils import timezone

from labbook.lookups.issuing import Place, neighbours_alike, propose
from labbook.lookups.samples import in_bench_order
from labbook.models import Bench, Group, Sample, SampleIssue

from ..conftest import Laboratory


def vials(*difficulties: int) -> list[Sample]:
    return [
        Sample(pk=number, label=f"Q{number}", difficulty=difficulty)
        for number, difficulty in enumerate(difficulties, start=1)
    ]


def places(count: int) -> list[Place]:
    return [Place(Group(pk=number, code=f"M{number}")) for number in range(1, count + 1)]


def give_rounds(groups: list[Place], samples: list[Sample], rounds: int) -> None:
    for _ in range(rounds):
        propose(groups, samples)
        for place in groups:
            place.issues.append(SampleIssue(sample=place.proposed, at=timezone.now()))
            place.proposed = None


@pytest.mark.parametrize("count", [2, 3, 7, 12])
@pytest.mark.parametrize("difficulties", [(1, 1), (1, 2, 3), (1, 1, 2, 2, 3)])
def test_neighbours_never_hold_the_same(count: int, difficulties: tuple[int, ...]) -> None:
    groups = places(count)
    for _ in range(3):
        give_rounds(groups, vials(*difficulties), 1)
        assert neighbours_alike(groups) == []


def test_over_a_term_every_group_meets_about_the_same_difficulty() -> None:
    groups = places(12)
    give_rounds(groups, vials(1, 2, 1, 3, 2), 3)
    totals = [sum(sample.difficulty for sample in place.had) for place in groups]
    assert max(totals) - min(totals) <= 1
    assert all(len(set(place.had)) == 3 for place in groups)


def test_a_group_that_holds_one_keeps_it_and_its_neighbours_get_another() -> None:
    groups, samples = places(3), vials(1, 1, 1)
    groups[1].proposed = samples[0]
    propose(groups, samples)
    assert groups[1].proposed == samples[0]
    assert samples[0] not in (groups[0].proposed, groups[2].proposed)


def test_neighbours_that_were_given_the_same_by_hand_are_told() -> None:
    groups, (first, second) = places(3), vials(1, 1)
    for place, sample in zip(groups, (first, first, second), strict=True):
        place.issues.append(SampleIssue(sample=sample))
    assert neighbours_alike(groups) == [(groups[0].group, groups[1].group, first)]


def test_bench_ten_stands_after_bench_nine(laboratory: Laboratory) -> None:
    section = laboratory.group.group.section
    for code in ("B10", "B9"):
        bench = Bench.objects.create(code=code)
        Group.objects.create(section=section, code=f"at {code}", bench=bench)
    Group.objects.create(section=section, code="waiting")
    codes = [group.code for group in in_bench_order(section)]
    assert codes == ["M1", "at B9", "at B10", "waiting"]

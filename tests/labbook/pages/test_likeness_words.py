"""Every kind of mention in words: what was seen with its figures, how rare, ordinary reasons."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from django.utils import timezone

from labbook.actions import runs as run_actions
from labbook.lookups.likeness import Found, OutOfHours, SameFile, TypedAtOnce, look_for_likeness
from labbook.models import Account
from labbook.views.likeness_words import Mention, mentions_of, rarity
from reduction.likeness.evenness import LineEven, LineScatter, Replicates, ReplicatesClose
from reduction.likeness.last_digits import DigitsUneven
from reduction.likeness.masses import MassesAlike, Weighing

from ..conftest import Laboratory


@pytest.fixture
def found(laboratory: Laboratory) -> Found:
    """What a TA of the first group's section gets: one run of it, one of another section."""
    for who in (laboratory.group, laboratory.stranger):
        assert who.group is not None and who.group.bench is not None
        run_actions.open_standardization_run(who.group.bench, by=who)
    return look_for_likeness(laboratory.term, laboratory.assistant)


def only(found: Found) -> Mention:
    (mention,) = mentions_of(found)
    assert mention.reasons and mention.by_chance
    return mention


def group_of(who: Account) -> int:
    assert who.group is not None
    return who.group.pk


def numbers(found: Found) -> tuple[int, int]:
    """The run of the TA's own section, and the one of another."""
    mine, theirs = sorted(found.records.runs)
    return mine, theirs


def test_equal_masses_stand_side_by_side(laboratory: Laboratory, found: Found) -> None:
    own, other = numbers(found)
    mine = Weighing(own, group_of(laboratory.group), 1, Decimal("13.9870"), Decimal("13.0000"))
    theirs = replace(mine, run=other, group=group_of(laboratory.stranger), bench=2)
    groups = (mine.group, theirs.group)
    found.masses = [MassesAlike(groups, ((mine, theirs),), ((mine, theirs),), 0.04, 0.002)]
    mention = only(found)
    assert "Group M1 and a group of another section have 1 pair of runs" in mention.seen
    assert "same crucible and charge" in mention.seen and "0.04 equal charges" in mention.seen
    assert mention.table == [("13.9870 g − 13.0000 g", "13.9870 g − 13.0000 g")]
    assert "one of 500 terms" in mention.by_chance
    assert [bool(run.url) for run in mention.runs] == [True, False]


@pytest.mark.parametrize(
    ("about_repeats", "words"),
    [(True, "0 last digits that repeat the one before; about 10 were expected"), (False, "3 (9)")],
)
def test_last_digits_are_counted(
    laboratory: Laboratory, found: Found, about_repeats: bool, words: str
) -> None:
    counts = (1, 2, 3, 9, 5, 6, 7, 8, 9, 10)
    group = group_of(laboratory.group)
    found.digits = [DigitsUneven(group, "readings", counts, 0, 9.9, about_repeats, 1e-9)]
    mention = only(found)
    assert words in mention.seen and "In the readings it typed, group M1 has" in mention.seen
    assert "fewer than one of a million terms" in mention.by_chance


@pytest.mark.parametrize("is_rounding", [True, False])
def test_an_even_line_is_held_against_what_is_usual(found: Found, is_rounding: bool) -> None:
    line = LineScatter(numbers(found)[0], 1, "fore", 0.00003, 31, 0.01, 0.0001)
    found.lines = [LineEven(line, 0.0004, is_rounding, 0.001)]
    seen = only(found).seen
    assert "leaves 0.03 mK of its 31 readings" in seen and "0.40 mK" in seen
    assert ("rounding alone leaves" in seen) == is_rounding


def test_close_replicates_name_their_figures(laboratory: Laboratory, found: Found) -> None:
    run = found.run(numbers(found)[0])
    assert run.standardization is not None
    values = (10_000.0, 10_000.1, 10_000.1)
    sets = Replicates(run.group, run.standardization, values, 12.0, 0.0, 0.0)
    found.replicates = [ReplicatesClose(sets, 0.06, 12.0, 0.01)]
    mention = only(found)
    assert mention.seen.startswith("Group M1 found") and "0.06 J/K where 12.0 J/K" in mention.seen
    (one,) = mention.runs
    assert one.words.startswith("group M1, standardization")


def test_files_typing_and_hours_are_told_without_a_chance(found: Found) -> None:
    at, (own, other) = timezone.now(), numbers(found)
    found.files = [SameFile({other: "of-another-section.csv", own: "run.csv"}, 3)]
    found.at_once = [TypedAtOnce(own, 40, 60.0, 1200.0)]
    found.out_of_hours = [OutOfHours(own, at, None), OutOfHours(own, at, (at, at))]
    seen = [one.seen for one in mentions_of(found)]
    assert "“run.csv” was handed in, byte for byte, for 2 runs" in seen[0]
    assert "and 3 of other terms" in seen[0]
    assert seen[1] == "40 readings that span 20 min were typed within 1.0 min."
    assert "when no other group of its section worked" in seen[2] and "That day" in seen[3]


def test_how_many_equal_charges_are_nothing_special_is_said(found: Found) -> None:
    assert rarity(found) == ""
    found.charges, found.agreeing, found.agreeing_by_chance = 98, 6, 5.9
    assert "chance alone gives about 5.9" in rarity(found)

"""Marks saved in the same moment, each on a connection of its own."""

from __future__ import annotations

from collections.abc import Callable

from labbook.actions.marking import mark_hand_in
from labbook.models import Account, Mark
from labbook.problems import Refused

from ..conftest import Laboratory, colleague
from ..marking import handed_in, numbers, scheme_of, seen_by
from .test_two_at_once import at_once


def test_of_two_pages_of_one_marker_one_is_told_and_two_markers_are_both_kept(
    transactional_db: None, laboratory: Laboratory
) -> None:
    scheme_of(laboratory.term)
    work, second = handed_in(laboratory), colleague(laboratory)
    first = laboratory.assistant
    seen = {who.pk: seen_by(work, who) for who in (first, second)}

    def saved(by: Account, words: str) -> Callable[[], object]:
        ticked = numbers(words)
        return lambda: mark_hand_in(work, ticked, seen=seen[by.pk], by=by)

    given = at_once(saved(first, "Both"), saved(first, "Δn"), saved(second, "The sign"))
    told = [str(one) for one in given if isinstance(one, Refused)]
    assert len(told) == 1 and "from another page" in told[0]
    assert sorted(Mark.objects.values_list("by", flat=True)) == sorted([first.pk, second.pk])

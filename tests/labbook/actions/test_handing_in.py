"""Handing in: versions that never change, what is missing, what was changed since."""

from __future__ import annotations

import pytest
from django.core.exceptions import PermissionDenied

from labbook.actions import runs
from labbook.actions.handing_in import hand_in
from labbook.actions.sheets import enter_figure
from labbook.lookups.handing_in import changes_between
from labbook.lookups.snapshots import packed, snapshot_of, unpacked
from labbook.models import Group, HandIn, Run, Term
from labbook.problems import Refused
from labbook.problems.handing_in import with_handing_in

from ..conftest import Laboratory, completed, member


@pytest.fixture
def run(laboratory: Laboratory) -> Run:
    opened = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    return completed(opened, laboratory)


def codes(lab: Laboratory) -> set[tuple[str, str]]:
    return {(p.code, p.severity) for p in with_handing_in(Group.objects.get(pk=lab.group.group_id))}


def corrected(run: Run, lab: Laboratory) -> None:
    enter_figure(run, "titre_ml", "8.4", reason="misread the burette", by=lab.group)


def test_nothing_complete_is_nothing_to_hand_in(laboratory: Laboratory) -> None:
    runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    with pytest.raises(Refused, match="nothing to hand in"):
        hand_in(laboratory.group.group, by=laboratory.group)


def test_what_is_missing_is_listed_and_kept_but_blocks_nothing(
    laboratory: Laboratory, run: Run
) -> None:
    Term.objects.update(ours_unlock="hand figures")
    runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    found = codes(laboratory)
    missing = {"unsigned", "unfinished", "hand figures", "unanswered", "not put forward"}
    assert found == {(code, "W") for code in missing}
    made = hand_in(laboratory.group.group, by=laboratory.group)
    assert any("is not signed" in sentence for sentence in made.missing)


def test_a_correction_is_version_2_and_version_1_stays(laboratory: Laboratory, run: Run) -> None:
    first = hand_in(laboratory.group.group, by=laboratory.group)
    before = bytes(HandIn.objects.get(pk=first.pk).record)
    corrected(run, laboratory)
    second = hand_in(laboratory.group.group, "the titre of the first run", by=laboratory.group)
    assert (first.version, second.version) == (1, 2)
    assert bytes(HandIn.objects.get(pk=first.pk).record) == before
    changes = changes_between(unpacked(before), unpacked(second.record))
    assert changes == [
        f"Standardization run 1 (run {run.pk}): titre of the washings, computed again"
    ]


def test_the_next_version_needs_a_change_and_words_for_it(laboratory: Laboratory, run: Run) -> None:
    hand_in(laboratory.group.group, by=laboratory.group)
    with pytest.raises(Refused, match="Nothing has changed since version 1"):
        hand_in(laboratory.group.group, "again", by=laboratory.group)
    corrected(run, laboratory)
    with pytest.raises(Refused, match="Say what was changed"):
        hand_in(laboratory.group.group, "  ", by=laboratory.group)


def test_only_the_group_hands_in_and_by_one_of_its_own(laboratory: Laboratory, run: Run) -> None:
    with pytest.raises(PermissionDenied):
        hand_in(laboratory.group.group, by=laboratory.assistant)
    stranger = member(laboratory, "Boz Underhay")
    stranger.memberships.all().delete()
    with pytest.raises(Refused, match="of your own group"):
        hand_in(laboratory.group.group, by=laboratory.group, entered_by=stranger)


def test_the_record_holds_people_by_number_and_its_hash_outlives_their_names(
    laboratory: Laboratory, run: Run
) -> None:
    made = hand_in(laboratory.group.group, by=laboratory.group, entered_by=laboratory.person)
    plain = str(unpacked(made.record))
    assert laboratory.person.name not in plain
    assert laboratory.group.name not in [word.strip("'") for word in plain.split()]
    laboratory.person.name = "person gone"
    laboratory.person.save()
    record, sha256 = packed(snapshot_of(laboratory.group.group))
    assert (record, sha256) == (bytes(made.record), made.record_sha256)

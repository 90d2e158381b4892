"""What cuts a history, who decides on it, what is left out, and approving outside the past."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from labbook.actions.history import (
    decide_break,
    exclude_point,
    freeze_limits,
    propose_break,
    take_point_in,
)
from labbook.actions.setup import change_configuration
from labbook.actions.standardizations import approve, put_forward
from labbook.lookups.history import history_of
from labbook.lookups.standardizations import approved_outside, summary_of
from labbook.models import (
    BenchConfiguration,
    Exclusion,
    FrozenLimits,
    PhaseBreak,
    Standardization,
    StandardLot,
)
from labbook.problems import Refused

from ..conftest import Laboratory, approved, head_changed, standardized
from ..conftest import put_forward as put_forward_by
from ..histories import SOUND, approved_values


def changed(lab: Laboratory, **facts: Any) -> BenchConfiguration:
    """The bench with other figures from now on, its parts as before."""
    configuration = BenchConfiguration.objects.filter(bench=lab.bench).latest("since")
    configuration.pk, configuration._state.adding = None, True
    configuration.since, configuration.reason = timezone.now(), "as agreed"
    for name, value in facts.items():
        setattr(configuration, name, value)
    return change_configuration(configuration, by=lab.coordinator)


def proposed(lab: Laboratory) -> PhaseBreak:
    return propose_break(lab.bench, timezone.now(), "parts", "new head", by=lab.coordinator)


def past_of(lab: Laboratory, shift: float) -> list[Standardization]:
    """Earlier values, as far from what the group's runs will give as is asked."""
    level = 10_000.0 + shift
    return approved_values(
        lab, [level + v - 10_100 for v in SOUND], newest=timezone.now() - timedelta(days=3)
    )


def test_a_change_of_parts_ends_the_approval_and_proposes_a_phase(laboratory: Laboratory) -> None:
    found = approved(laboratory)
    configuration = head_changed(laboratory)
    cut = PhaseBreak.objects.get()
    assert (cut.cause, cut.state, cut.configuration) == ("parts", "proposed", configuration)
    assert cut.at == configuration.since
    found.refresh_from_db()
    assert found.state == "lapsed"


def test_other_nominal_water_proposes_a_phase_but_another_limit_does_not(
    laboratory: Laboratory,
) -> None:
    changed(laboratory, max_oxygen_atm=28)
    assert not PhaseBreak.objects.exists()
    changed(laboratory, nominal_water_g=2100)
    assert PhaseBreak.objects.get().cause == "water"


def test_a_lot_with_another_basis_of_mass_proposes_a_phase(laboratory: Laboratory) -> None:
    approved(laboratory)
    again = standardized(laboratory)
    StandardLot.objects.create(
        code="S2", substance=StandardLot.objects.get().substance, value_j_per_g="26434",
        u_j_per_g="1.5", basis="air", certificate="invented",
    )  # fmt: skip
    again.runs.update(standard_lot=StandardLot.objects.get(code="S2"))
    put_forward(again, by=laboratory.group)
    approve(again, by=laboratory.assistant, seen=summary_of(again).seen)
    cut = PhaseBreak.objects.get()
    assert (cut.cause, cut.state) == ("lot", "proposed") and "instead of" in cut.words
    row, _ = history_of(laboratory.bench, laboratory.coordinator)
    assert [len(phase.points) for phase in row.phases] == [1, 1]


@pytest.mark.parametrize("who", ["group", "assistant"])
def test_only_a_coordinator_decides_on_histories(laboratory: Laboratory, who: str) -> None:
    by, cut = getattr(laboratory, who), proposed(laboratory)
    made = approved_values(laboratory, SOUND)[0]
    deeds = (
        lambda: decide_break(cut, "confirmed", "", by=by),
        lambda: exclude_point(made, "soot", by=by),
        lambda: freeze_limits(laboratory.bench, "so", by=by),
    )
    for deed in deeds:
        with pytest.raises(PermissionDenied):
            deed()
    left_out = exclude_point(made, "soot", by=laboratory.coordinator)
    with pytest.raises(PermissionDenied):
        take_point_in(left_out, "so", by=by)


def test_a_break_is_decided_once_and_merging_says_why(laboratory: Laboratory) -> None:
    cut, by = proposed(laboratory), laboratory.coordinator
    with pytest.raises(Refused, match="confirmed, or its phases are merged"):
        decide_break(cut, "gone", "", by=by)
    with pytest.raises(Refused, match="Say why the phases may be compared"):
        decide_break(cut, "merged", " ", by=by)
    decided = decide_break(cut, "merged", "only the screws", by=by)
    assert (decided.state, decided.decided_by, decided.reason) == ("merged", by, "only the screws")
    with pytest.raises(Refused, match="was merged by coordinator already"):
        decide_break(cut, "confirmed", "", by=by)


def test_leaving_out_needs_a_proven_cause_and_can_be_taken_back(laboratory: Laboratory) -> None:
    made, by = approved_values(laboratory, SOUND)[0], laboratory.coordinator
    with pytest.raises(Refused, match="Being far off is not a cause"):
        exclude_point(made, "", by=by)
    left_out = exclude_point(made, "tare was wrong", by=by)
    with pytest.raises(Refused, match="left out already"):
        exclude_point(made, "again", by=by)
    with pytest.raises(Refused, match="why the value counts again"):
        take_point_in(left_out, "", by=by)
    take_point_in(left_out, "tare was right", by=by)
    with pytest.raises(Refused, match="coordinator took this value in again already"):
        take_point_in(left_out, "once more", by=by)
    exclude_point(made, "it was wrong", by=by)
    assert [row.cause for row in Exclusion.objects.all()] == ["tare was wrong", "it was wrong"]


def test_what_was_never_approved_cannot_be_left_out(laboratory: Laboratory) -> None:
    with pytest.raises(Refused, match="Only a value that was approved"):
        exclude_point(put_forward_by(laboratory), "soot", by=laboratory.coordinator)


def test_limits_are_frozen_by_name_with_date_and_reason(laboratory: Laboratory) -> None:
    approved_values(laboratory, SOUND[:2])
    by = laboratory.coordinator
    with pytest.raises(Refused, match="2 values that count; at least 3 are needed"):
        freeze_limits(laboratory.bench, "early", by=by)
    approved_values(laboratory, SOUND[:3], newest=timezone.now() - timedelta(days=30))
    with pytest.raises(Refused, match="needs its reason"):
        freeze_limits(laboratory.bench, " ", by=by)
    frozen = freeze_limits(laboratory.bench, "term begins", by=by)
    assert (frozen.by, frozen.reason, frozen.n, frozen.first_index) == (by, "term begins", 5, 5)
    assert timezone.now() - frozen.at < timedelta(minutes=1)


def test_a_phase_whose_beginning_is_only_proposed_has_no_limits_to_freeze(
    laboratory: Laboratory,
) -> None:
    at = timezone.now() - timedelta(days=100)
    cut = propose_break(laboratory.bench, at, "parts", "head", by=laboratory.coordinator)
    approved_values(laboratory, SOUND)
    with pytest.raises(Refused, match="only proposed"):
        freeze_limits(laboratory.bench, "so", by=laboratory.coordinator)
    decide_break(cut, "confirmed", "", by=laboratory.coordinator)
    freeze_limits(laboratory.bench, "so", by=laboratory.coordinator)
    assert FrozenLimits.objects.get().begins == cut


def test_approving_outside_the_past_needs_a_reason_and_is_recorded(laboratory: Laboratory) -> None:
    found = put_forward_by(laboratory)
    summary = summary_of(found)
    past_of(laboratory, summary.replicates.mean - 10_000.0 - 200.0)
    with pytest.raises(Refused, match=r"above this bench's 8 .*expected.*needs a reason"):
        approve(found, by=laboratory.assistant, seen=summary.seen)
    approve(found, by=laboratory.assistant, seen=summary.seen, reason="masses checked twice")
    found.refresh_from_db()
    assert (found.was_outside, found.standing_then) == (True, "watch")
    assert found.decisions.last().reason == "masses checked twice"
    for who in (laboratory.coordinator, laboratory.assistant):
        assert list(approved_outside(who)) == [found]
    assert not approved_outside(laboratory.other_assistant).exists()


def test_approving_inside_the_past_needs_none(laboratory: Laboratory) -> None:
    found = put_forward_by(laboratory)
    summary = summary_of(found)
    past_of(laboratory, summary.replicates.mean - 10_000.0)
    approve(found, by=laboratory.assistant, seen=summary.seen)
    found.refresh_from_db()
    assert (found.was_outside, found.standing_then) == (False, "steady")
    assert not approved_outside(laboratory.coordinator).exists()

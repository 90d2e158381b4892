"""Marks: ticks kept as they were, points applied, which one stands, what a group is given."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
import time_machine
from django.core.exceptions import PermissionDenied
from django.db.models import Q
from django.test import override_settings
from django.utils import timezone

from labbook.actions.handing_in import hand_in as hand_in_again
from labbook.actions.marking import (
    add_descriptor,
    copy_scheme,
    give_marks_out,
    mark_hand_in,
    share_hand_in,
)
from labbook.actions.retention import purge
from labbook.actions.samples import reveal_sample
from labbook.actions.sheets import enter_figure
from labbook.forms.marking import DescriptorForm
from labbook.lookups import blinding
from labbook.lookups.blinding import blind_numbers
from labbook.lookups.course_marks import marks_of_section, marks_of_term
from labbook.lookups.marking import (
    hand_ins_to_mark,
    listed,
    mark_given_to,
    standing_marks,
    waiting_count,
)
from labbook.lookups.spread import spread_of
from labbook.models import (
    Descriptor,
    Group,
    HandIn,
    Mark,
    MarkScheme,
    MarksGivenOut,
    Membership,
    Run,
    SharedHandIn,
)
from labbook.problems import Refused

from ..conftest import Laboratory, colleague, group_in, member
from ..marking import give, handed_in, mark, numbers, scheme_of, section_of, seen_by


@pytest.fixture
def scheme(laboratory: Laboratory) -> MarkScheme:
    return scheme_of(laboratory.term)


@pytest.fixture
def work(laboratory: Laboratory, scheme: MarkScheme) -> HandIn:
    return handed_in(laboratory)


def standing(lab: Laboratory) -> Mark:
    return standing_marks(Q(hand_in__group=lab.group.group_id))[lab.group.group_id]


def given(lab: Laboratory) -> Mark | None:
    found = mark_given_to(Group.objects.get(pk=lab.group.group_id))
    return found and found.mark


def test_points_are_the_sum_of_what_was_seen(laboratory: Laboratory, work: HandIn) -> None:
    made = mark(work, laboratory.assistant, "Both", "The sign")
    assert (made.points, made.out_of) == (Decimal("2.5"), Decimal("10"))
    assert [tick["seen"] for tick in made.ticks] == [True, False, True, False]
    assert [tick["points"] for tick in made.ticks] == ["2", "1.5", "0.5", "6"]


def test_a_change_is_one_more_mark_and_the_newest_stands(
    laboratory: Laboratory, work: HandIn
) -> None:
    first = mark(work, laboratory.assistant, "Both")
    second = mark(work, laboratory.assistant, "Both", "Δn")
    assert list(Mark.objects.all()) == [first, second]
    assert standing(laboratory) == second


def test_a_mark_keeps_its_words_and_points_when_the_scheme_changes(
    laboratory: Laboratory, work: HandIn, scheme: MarkScheme
) -> None:
    made = mark(work, laboratory.assistant, "Both")
    Descriptor.objects.filter(words__startswith="Both").update(points=5, words="Lines")
    made.refresh_from_db()
    assert made.ticks[0]["words"] == "Both drift lines are drawn" and made.points == 2


def test_a_second_page_of_the_same_marker_is_told(laboratory: Laboratory, work: HandIn) -> None:
    opened = seen_by(work, laboratory.assistant)
    mark(work, laboratory.assistant, "Both")
    with pytest.raises(Refused, match="from another page"):
        mark_hand_in(work, numbers("Δn"), seen=opened, by=laboratory.assistant)
    assert Mark.objects.count() == 1


def test_a_page_from_before_the_scheme_was_changed_is_told(
    laboratory: Laboratory, work: HandIn, scheme: MarkScheme
) -> None:
    opened = seen_by(work, laboratory.assistant)
    one = Descriptor(scheme=scheme, part="Judgement", words="It is weighed", points=1)
    add_descriptor(one, by=laboratory.coordinator)
    with pytest.raises(Refused, match="scheme was changed"):
        mark_hand_in(work, numbers("Δn"), seen=opened, by=laboratory.assistant)


def test_two_markers_of_a_section_are_both_kept(laboratory: Laboratory, work: HandIn) -> None:
    second = colleague(laboratory)
    pages = {who: seen_by(work, who) for who in (laboratory.assistant, second)}
    for who, seen in pages.items():
        mark_hand_in(work, numbers("Both"), seen=seen, by=who)
    assert [one.by for one in Mark.objects.all()] == [laboratory.assistant, second]
    assert standing(laboratory).by == second


@pytest.mark.parametrize("ticked", [{0}, {999_999}])
def test_a_descriptor_of_no_scheme_is_refused(
    laboratory: Laboratory, work: HandIn, ticked: set[int]
) -> None:
    seen = seen_by(work, laboratory.assistant)
    with pytest.raises(Refused, match="not of this scheme"):
        mark_hand_in(work, ticked, seen=seen, by=laboratory.assistant)


def test_without_a_scheme_nothing_is_marked(laboratory: Laboratory) -> None:
    work = handed_in(laboratory)
    with pytest.raises(Refused, match="No mark scheme is chosen for autumn"):
        mark_hand_in(work, set(), seen="", by=laboratory.assistant)
    Descriptor.objects.filter(scheme=scheme_of(laboratory.term)).update(in_use=False)
    with pytest.raises(Refused, match="no descriptors in use"):
        mark_hand_in(work, set(), seen="", by=laboratory.assistant)


def test_marking_is_for_the_sections_own_tas(laboratory: Laboratory, work: HandIn) -> None:
    for who in (laboratory.other_assistant, laboratory.group, laboratory.stranger):
        with pytest.raises(PermissionDenied):
            mark_hand_in(work, set(), seen=seen_by(work, who), by=who)
        assert work not in hand_ins_to_mark(who)
    for who in (laboratory.assistant, laboratory.coordinator):
        assert work in hand_ins_to_mark(who)
    assert mark(work, laboratory.coordinator, "Both").is_shared_sample is False


def test_a_remark_does_not_tell_what_is_in_a_hidden_vial(
    laboratory: Laboratory, work: HandIn
) -> None:
    with pytest.raises(Refused, match="still hidden"):
        mark(work, laboratory.assistant, remark="Naphthalene burns hotter.")
    reveal_sample(laboratory.sample, by=laboratory.coordinator)
    assert mark(work, laboratory.assistant, remark="Naphthalene burns hotter.").remark


def test_a_later_version_waits_for_its_mark(laboratory: Laboratory, work: HandIn) -> None:
    assert waiting_count(laboratory.assistant) == 1
    mark(work, laboratory.assistant, "Both")
    assert waiting_count(laboratory.assistant) == 0
    later = corrected(laboratory)
    (line,) = listed(section_of(laboratory), laboratory.assistant).lines
    assert line.waits == "version 2 came after the mark" and line.hand_in == later
    mark(later, laboratory.assistant, "Both", "Δn")
    mark(work, laboratory.assistant, "The sign")
    assert standing(laboratory).hand_in == later, "an old version marked again does not count"
    assert waiting_count(laboratory.assistant) == 0
    assert waiting_count(laboratory.other_assistant) == 0


def corrected(lab: Laboratory) -> HandIn:
    """The group's next version, with one figure corrected."""
    run = Run.objects.get()
    enter_figure(run, "titre_ml", "8.4", reason="misread the burette", by=lab.group)
    return hand_in_again(lab.group.group, "the titre", by=lab.group)


def test_a_group_sees_what_stood_when_marks_were_given_out(
    laboratory: Laboratory, work: HandIn
) -> None:
    first = mark(work, laboratory.assistant, "Both")
    assert given(laboratory) is None
    give(laboratory)
    assert given(laboratory) == first
    with time_machine.travel(timezone.now() + timedelta(minutes=1)):
        second = mark(work, laboratory.assistant, "Both", "Δn")
        assert given(laboratory) == first, "a later mark waits for the next time"
        give(laboratory)
    assert given(laboratory) == second


def test_what_is_not_marked_is_named_and_nothing_marked_gives_nothing_out(
    laboratory: Laboratory, work: HandIn
) -> None:
    with pytest.raises(Refused, match="no marks to give out"):
        give(laboratory)
    with pytest.raises(PermissionDenied):
        give_marks_out(section_of(laboratory), seen="", by=laboratory.other_assistant)


def test_a_mark_added_since_the_list_was_opened_is_not_given_out_unseen(
    laboratory: Laboratory, work: HandIn
) -> None:
    section = section_of(laboratory)
    mark(work, laboratory.assistant, "Both")
    seen = listed(section, laboratory.assistant).seen
    mark(work, laboratory.coordinator, "Δn")
    with pytest.raises(Refused, match="nothing was given out"):
        give_marks_out(section, seen=seen, by=laboratory.assistant)
    assert not MarksGivenOut.objects.exists()


@pytest.fixture
def shared(laboratory: Laboratory, work: HandIn) -> HandIn:
    share_hand_in(work, by=laboratory.assistant)
    return HandIn.objects.get(pk=work.pk)


def test_every_ta_of_the_term_marks_a_shared_hand_in_and_only_its_own_counts(
    laboratory: Laboratory, shared: HandIn
) -> None:
    assert shared in hand_ins_to_mark(laboratory.other_assistant)
    own = mark(shared, laboratory.assistant, "Both")
    other = mark(shared, laboratory.other_assistant, "Both", "Δn")
    compared = mark(shared, laboratory.coordinator, "Δn")
    assert [one.is_shared_sample for one in (own, other, compared)] == [False, True, True]
    assert standing(laboratory) == own
    raised = mark(shared, laboratory.coordinator, "Δn", counts=True)
    assert not raised.is_shared_sample and standing(laboratory) == raised
    assert len(marks_of_section(section_of(laboratory))) == 1


def test_a_ta_of_no_section_of_the_term_does_not_reach_it(
    laboratory: Laboratory, shared: HandIn
) -> None:
    for section in laboratory.other_assistant.sections.all():
        section.assistants.remove(laboratory.other_assistant)
    assert shared not in hand_ins_to_mark(laboratory.other_assistant)
    with pytest.raises(PermissionDenied):
        mark(shared, laboratory.other_assistant, "Both")


def test_sharing_is_for_those_who_mark_it_and_happens_once(
    laboratory: Laboratory, work: HandIn
) -> None:
    with pytest.raises(PermissionDenied):
        share_hand_in(work, by=laboratory.other_assistant)
    share_hand_in(work, by=laboratory.assistant)
    with pytest.raises(Refused, match="already"):
        share_hand_in(work, by=laboratory.coordinator)
    assert SharedHandIn.objects.count() == 1


def test_the_spread_is_said_in_words(laboratory: Laboratory, shared: HandIn) -> None:
    assert spread_of(shared).words == "Nobody has marked it yet."
    mark(shared, laboratory.assistant, "Both", "The sign")
    assert spread_of(shared).words.startswith("1 marker so far: 2.5 of 10.")
    mark(shared, laboratory.other_assistant, "The sign", "Both")
    assert spread_of(shared).words == (
        "2 markers, all 2.5 of 10. They agree on every one of 4 descriptors."
    )
    mark(shared, laboratory.coordinator, "Both", "Δn")
    found = spread_of(shared)
    assert found.words == (
        "3 markers, 2.5 to 8 of 10. They differ on 2 of 4 descriptors: "
        "“The sign is right”; “Δn is right”."
    )
    assert [block.points for block in found.blocks] == [[2, 2, 2], [Decimal("0.5")] * 2 + [6]]


def test_the_spread_says_where_a_descriptor_was_not_put_to_a_marker(
    laboratory: Laboratory, shared: HandIn
) -> None:
    mark(shared, laboratory.assistant, "Both")
    Descriptor.objects.filter(words__startswith="Δn").update(in_use=False)
    mark(shared, laboratory.other_assistant, "Both")
    found = spread_of(shared)
    assert found.blocks[1].rows[1].seen == [False, None] and not found.split
    assert "2 of 10, 2 of 4" in found.words


def test_the_table_has_a_line_for_each_member_when_it_was_handed_in(
    laboratory: Laboratory, scheme: MarkScheme
) -> None:
    today = timezone.localdate()
    gone = member(laboratory, "Bo Left")
    Membership.objects.filter(person=gone).update(
        since=today - timedelta(days=9), until=today - timedelta(days=1)
    )
    laboratory.person.student_number = "q70013"
    laboratory.person.save()
    made = mark(handed_in(laboratory), laboratory.assistant, "Both", "The sign")
    late = member(laboratory, "Cy Later")
    Membership.objects.filter(person=late).update(since=today + timedelta(days=1))
    at = timezone.localtime(made.at).isoformat(timespec="seconds")
    assert marks_of_term(laboratory.term) == [
        ("q70013", "Ada Quill", "M1", "Monday", "2.5", "10", 1, at)
    ]
    assert marks_of_section(section_of(laboratory)) == marks_of_term(laboratory.term)


def test_the_numbers_of_groups_are_steady_and_their_own(
    laboratory: Laboratory, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(blinding, "COUNT", 70)  # so few that many are drawn twice
    before = blind_numbers(laboratory.term)
    for count in range(60):
        bench = laboratory.bench
        group_in(laboratory.term, f"S{count}", laboratory.assistant, f"S{count}", bench)
    after = blind_numbers(laboratory.term)
    assert before.items() <= after.items()
    assert len(set(after.values())) == len(after) == 62
    assert all(1000 <= number < 1070 for number in after.values())


def test_the_numbers_cannot_be_worked_out_without_the_key(
    laboratory: Laboratory,
) -> None:
    before = blind_numbers(laboratory.term)
    with override_settings(SECRET_KEY="another key than before"):
        assert blind_numbers(laboratory.term) != before


def test_a_used_descriptor_can_only_be_taken_out_of_use(
    laboratory: Laboratory, work: HandIn, scheme: MarkScheme
) -> None:
    used = scheme.descriptors.first()
    assert used is not None
    kept = {"scheme": scheme.pk, "part": used.part, "words": used.words, "points": "2", "order": 7}
    changed = kept | {"words": "Other words", "in_use": "on"}
    assert DescriptorForm(changed, instance=Descriptor.objects.get(pk=used.pk)).is_valid()
    mark(work, laboratory.assistant, "Δn")
    form = DescriptorForm(changed, instance=Descriptor.objects.get(pk=used.pk))
    assert not form.is_valid() and "Take it out of use" in str(form.errors)
    assert DescriptorForm(kept, instance=Descriptor.objects.get(pk=used.pk)).is_valid()


def test_a_copy_has_the_descriptors_in_use(laboratory: Laboratory, scheme: MarkScheme) -> None:
    Descriptor.objects.filter(words__startswith="Δn").update(in_use=False)
    copy = copy_scheme(scheme, " next year ", by=laboratory.coordinator)
    assert copy.name == "next year"
    assert [one.words for one in copy.descriptors.all()] == [
        one.words for one in scheme.descriptors.filter(in_use=True)
    ]
    for name in ("next year", "", "report"):
        with pytest.raises(Refused, match="a name of its own"):
            copy_scheme(scheme, name, by=laboratory.coordinator)
    with pytest.raises(PermissionDenied):
        copy_scheme(scheme, "mine", by=laboratory.assistant)


def test_marks_can_go_for_good_though_they_were_shared_and_given_out(
    laboratory: Laboratory, shared: HandIn
) -> None:
    mark(shared, laboratory.assistant, "Both")
    give(laboratory)
    laboratory.term.marks_until = timezone.localdate() - timedelta(days=1)
    laboratory.term.save()
    purge(laboratory.term, "marks", "autumn", by=laboratory.coordinator)
    assert not Mark.objects.exists() and given(laboratory) is None

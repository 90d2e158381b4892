"""Marking on the page: ticks before points, blind and shared hand-ins, own mark, the table."""

from __future__ import annotations

import csv
import re
from datetime import timedelta
from io import StringIO

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from labbook.actions.hand_figures import enter_hand_figure
from labbook.actions.handing_in import hand_in
from labbook.actions.marking import share_hand_in
from labbook.actions.retention import purge
from labbook.actions.sheets import enter_figure
from labbook.models import Account, Descriptor, Group, HandIn, Mark, MarkScheme, Run

from ..conftest import Laboratory, colleague, member, signed_in
from ..marking import give, handed_in, mark, scheme_of, section_of, seen_by
from .conftest import HTMX, Afternoon

TELLING = re.compile(r"\b(?:M1|m1|Ada|Quill|B1|U-1|q70013)\b")


@pytest.fixture
def work(laboratory: Laboratory) -> HandIn:
    scheme_of(laboratory.term)
    return handed_in(laboratory)


def page(client: Client, path: str, status: int = 200) -> str:
    response = client.get(path)
    assert response.status_code == status, path
    return response.content.decode()


def of(work: HandIn, rest: str = "") -> str:
    return f"/marking/{work.pk}/{rest}"


def section_page(lab: Laboratory, rest: str = "") -> str:
    return f"/sections/{section_of(lab).pk}/marks/{rest}"


def sent(work: HandIn, by: Account, *seen: str, remark: str = "") -> dict[str, object]:
    found = Descriptor.objects.filter(words__in=seen)
    ticks = [str(one.pk) for one in found]
    return {"tick": ticks, "remark": remark, "seen": seen_by(work, by)}


def test_points_show_only_once_the_ticks_are_saved(
    laboratory: Laboratory, work: HandIn, assistant: Client
) -> None:
    before = page(assistant, of(work))
    assert "Both drift lines are drawn" in before and "Extrapolation" in before
    assert "worth" not in before and "of 10" not in before and "1.5" not in before
    answer = assistant.post(of(work), sent(work, laboratory.assistant, "Δn is right"), follow=True)
    after = answer.content.decode()
    assert "the points applied: 6 of 10." in after and "6 of 10 points" in re.sub(
        "<.*?>", "", after
    )
    assert after.count('class="worth"') == 4 and "6.00" not in after
    assert Mark.objects.get().by == laboratory.assistant


def test_a_page_from_before_gives_back_what_was_ticked_and_saves_the_next_time(
    laboratory: Laboratory, work: HandIn, assistant: Client
) -> None:
    stale = sent(work, laboratory.assistant, "Δn is right", remark="look at Δn")
    mark(work, laboratory.assistant, "Both")
    answer = assistant.post(of(work), stale)
    html = answer.content.decode()
    assert answer.status_code == 409 and "from another page" in html
    (ticked,) = Descriptor.objects.filter(words="Δn is right")
    assert re.findall(r'value="(\d+)" checked', html) == [str(ticked.pk)]
    assert "look at Δn</textarea>" in html and Mark.objects.count() == 1
    (seen,) = re.findall(r'name="seen" value="([^"]+)"', html)
    assert assistant.post(of(work), stale | {"seen": seen}).status_code == 302
    assert Mark.objects.count() == 2


def test_what_was_written_comes_back_when_it_is_refused(
    laboratory: Laboratory, work: HandIn, assistant: Client
) -> None:
    answer = assistant.post(of(work), sent(work, laboratory.assistant, remark="x" * 1001))
    html = answer.content.decode()
    assert answer.status_code == 422 and "at most 1000 are kept" in html and "x" * 1001 in html
    wrong = sent(work, laboratory.assistant) | {"tick": ["one"]}
    assert assistant.post(of(work), wrong).status_code == 422


def test_the_work_is_beside_the_ticks_as_it_was_handed_in(
    laboratory: Laboratory, work: HandIn, assistant: Client
) -> None:
    run = Run.objects.get()
    assert "Standardization run 1" in page(assistant, of(work))
    enter_figure(run, "titre_ml", "8.4", reason="misread the burette", by=laboratory.group)
    assert "?since=1" in page(assistant, of(work))
    html = page(assistant, of(work, "?since=1"))
    assert "Changed since by the group" in html and "titre of the washings" in html
    part = assistant.get(of(work, "?since=1"), headers=HTMX).content.decode()
    assert "titre of the washings" in part and "<html" not in part
    as_it_was = page(assistant, of(work, f"runs/{run.pk}/"))
    assert "7.9" in as_it_was and "8.4" not in as_it_was and "plot-figure" in as_it_was
    part = assistant.get(of(work, f"runs/{run.pk}/"), headers=HTMX).content.decode()
    assert "<html" not in part and "7.9" in part
    page(assistant, of(work, "runs/99999/"), 404)
    later = hand_in(laboratory.group.group, "the titre", by=laboratory.group)
    assert f'href="/marking/{later.pk}/">version 2' in page(assistant, of(work))


def test_a_later_version_begins_with_the_ticks_of_the_earlier_one(
    laboratory: Laboratory, work: HandIn, assistant: Client
) -> None:
    mark(work, laboratory.assistant, "Both", remark="neat")
    run = Run.objects.get()
    enter_figure(run, "titre_ml", "8.4", reason="misread the burette", by=laboratory.group)
    later = hand_in(laboratory.group.group, "the titre", by=laboratory.group)
    html = page(assistant, of(later))
    assert "Ticked as you left version 1" in html and html.count(" checked>") == 1
    assert "neat</textarea>" in html and "worth" not in html
    assert "version 2 came after the mark" in page(assistant, section_page(laboratory))


def test_three_columns_stand_beside_the_ticks_for_every_run(
    afternoon: Afternoon,
) -> None:
    run, lab = afternoon.run, afternoon.lab
    assert "no hand figures to compare" in page(
        afternoon.client("assistant"), of(afternoon.hand_in)
    )
    enter_hand_figure(run, "rise", "1.31", "K", by=lab.group)
    later = hand_in(lab.group.group, "hand figures", by=lab.group)
    html = page(afternoon.client("assistant"), of(later))
    assert f'id="side-caption{run.pk}"' in html and "1.31" in html
    assert "first differs: corrected temperature rise" in html


def test_a_term_without_a_scheme_says_who_chooses_one(
    laboratory: Laboratory, assistant: Client
) -> None:
    work = handed_in(laboratory)
    for path in (of(work), section_page(laboratory)):
        assert "A coordinator chooses one" in page(assistant, path)
    assert "No mark scheme is chosen" in page(
        signed_in(laboratory.coordinator), f"/terms/{laboratory.term.pk}/"
    )


# --- blind -------------------------------------------------------------------------------------


def test_another_ta_of_the_term_marks_a_shared_hand_in_without_its_name(
    laboratory: Laboratory, work: HandIn
) -> None:
    other = signed_in(laboratory.other_assistant)
    page(other, of(work), 404)
    mark(work, laboratory.assistant, "Both", "The sign")
    signed_in(laboratory.assistant).post(of(work, "several/"))
    html = page(other, of(work))
    assert TELLING.findall(html) == [] and "Number " in html
    assert "2.5" not in html, "the others’ points wait for one’s own ticks"
    assert "Mark it yourself first" in page(other, of(work, "spread/"))
    assert "2.5" not in page(other, of(work, "spread/"))
    listing = page(other, "/marking/")
    assert of(work) in listing and "not marked by you yet" in listing
    other.post(of(work), sent(work, laboratory.other_assistant, "Δn is right"))
    html = page(other, of(work))
    assert "2.5 of 10" in re.sub("<.*?>", "", html) and "to compare markers only" in html
    spread = page(other, of(work, "spread/"))
    assert "2 markers, 2.5 to 6 of 10. They differ on 3 of 4 descriptors" in spread
    assert 'data-figure="spread-data"' in spread and spread.count("(they differ)") == 3
    page(other, section_page(laboratory), 404)


def test_a_colleague_sees_no_points_of_a_shared_hand_in_before_marking_it(
    laboratory: Laboratory, work: HandIn, coordinator: Client
) -> None:
    second = signed_in(colleague(laboratory))
    share_hand_in(work, by=laboratory.assistant)
    mark(work, laboratory.assistant, "Both", "The sign")
    html = page(second, section_page(laboratory))
    assert "2.5" not in html and "after yours" in html
    refused = second.post(section_page(laboratory, "table/"))
    assert refused.status_code == 409 and "Mark it first" in refused.content.decode()
    assert coordinator.post(section_page(laboratory, "table/")).status_code == 200
    assert "1 marker so far: 2.5 of 10" in page(coordinator, of(work, "spread/"))


# --- the group -------------------------------------------------------------------------------


def own_page(lab: Laboratory) -> str:
    return page(signed_in(lab.group), f"/groups/{lab.group.group_id}/mark/")


def test_a_group_sees_nothing_before_and_then_its_own_mark_by_role(
    laboratory: Laboratory, work: HandIn
) -> None:
    mark(work, laboratory.assistant, "Both", "Δn", remark="Say which input dominates.")
    share_hand_in(work, by=laboratory.assistant)
    mark(HandIn.objects.get(pk=work.pk), laboratory.other_assistant, "The sign", remark="apart")
    before = own_page(laboratory)
    assert "No mark has been given out yet" in before and "dominates" not in before
    handing_in = f"/groups/{laboratory.group.group_id}/handing-in/"
    for path in (handing_in, "/afternoon/"):
        assert "/mark/" not in page(signed_in(laboratory.group), path)
    give(laboratory)
    text = re.sub(r"\s+", " ", re.sub("<.*?>", "", own_page(laboratory)))
    assert "8 of 10" in text and "Extrapolation: 2 of 3.5" in text
    assert "The crossing is marked not seen, 0 of 1.5" in text and "Δn is right seen, 6" in text
    assert "Say which input dominates." in text and "Marked by a teaching assistant" in text
    assert laboratory.assistant.name not in text.split() and "apart" not in text
    for path in (handing_in, "/afternoon/"):
        html = page(signed_in(laboratory.group), path)
        assert "8 of 10" in re.sub("<.*?>", "", html) and "/mark/" in html


def test_a_group_is_told_when_marks_are_gone_for_good(laboratory: Laboratory, work: HandIn) -> None:
    mark(work, laboratory.assistant, "Both")
    give(laboratory)
    laboratory.term.marks_until = timezone.localdate() - timedelta(days=1)
    laboratory.term.save()
    purge(laboratory.term, "marks", "autumn", by=laboratory.coordinator)
    assert "removed for good" in own_page(laboratory)


# --- lists, table, scheme ----------------------------------------------------------------------


def test_what_waits_is_counted_and_led_to(
    laboratory: Laboratory, work: HandIn, assistant: Client
) -> None:
    assert "1 waits for a mark" in page(assistant, "/review/")
    assert section_page(laboratory) in page(assistant, f"/sections/{section_of(laboratory).pk}/")
    html = page(assistant, section_page(laboratory))
    assert of(work) in html and "not marked yet" in html and "nothing to give out" in html
    mark(work, laboratory.assistant, "Both")
    html = page(assistant, section_page(laboratory))
    assert "Give 1 mark out" in html and "2 of 10" in re.sub("<.*?>", "", html)
    assert "Nothing waits for a mark" in page(assistant, "/review/")


def test_marks_that_are_given_out_are_not_offered_again(
    laboratory: Laboratory, work: HandIn, assistant: Client
) -> None:
    mark(work, laboratory.assistant, "Both")
    give(laboratory)
    html = page(assistant, section_page(laboratory))
    assert "Every mark is given out" in html and "Give 1 mark out" not in html
    mark(work, laboratory.assistant, "Δn")
    assert "Give 1 mark out" in page(assistant, section_page(laboratory))


def test_a_list_that_has_changed_gives_nothing_out(
    laboratory: Laboratory, work: HandIn, assistant: Client
) -> None:
    mark(work, laboratory.assistant, "Both")
    (seen,) = re.findall(r'name="seen" value="(\w+)"', page(assistant, section_page(laboratory)))
    mark(work, laboratory.assistant, "Δn")
    answer = assistant.post(section_page(laboratory, "give-out/"), {"seen": seen})
    assert answer.status_code == 409 and "nothing was given out" in answer.content.decode()


def test_the_table_is_for_a_spreadsheet_and_runs_nothing_in_it(
    laboratory: Laboratory, work: HandIn, assistant: Client, coordinator: Client
) -> None:
    added = member(laboratory, "=HYPERLINK(1)")
    assert added.pk
    mark(work, laboratory.assistant, "Both", "The sign")
    answer = assistant.post(section_page(laboratory, "table/"))
    assert (
        answer["Content-Type"].startswith("text/csv")
        and "attachment" in answer["Content-Disposition"]
    )
    rows = list(csv.DictReader(StringIO(answer.content.decode())))
    assert list(rows[0]) == [
        "student_number", "name", "group", "section", "points", "out_of", "version", "marked_at",
    ]  # fmt: skip
    assert [row["name"] for row in rows] == ["'=HYPERLINK(1)", "Ada Quill"]
    assert {(row["points"], row["out_of"], row["group"]) for row in rows} == {("2.5", "10", "M1")}
    whole = coordinator.post(f"/terms/{laboratory.term.pk}/close/marks/")
    assert whole.content == answer.content


def test_a_scheme_is_written_descriptor_by_descriptor_and_copied(
    laboratory: Laboratory, coordinator: Client
) -> None:
    coordinator.post("/set-up/mark-schemes/new/", {"name": "our report"})
    scheme = MarkScheme.objects.get()
    own = f"/set-up/mark-schemes/{scheme.pk}/whole/"
    assert own in page(coordinator, "/set-up/mark-schemes/")
    assert "No descriptors yet" in page(coordinator, own)
    for words, points in (("Lines are drawn", "1.50"), ("Units are carried", "2")):
        coordinator.post(own, {"part": "Extrapolation", "words": words, "points": points})
    html = page(coordinator, own)
    assert "3.5 points in all" in re.sub("<.*?>", "", html)
    assert [one.order for one in scheme.descriptors.all()] == [1, 2]
    refused = coordinator.post(own, {"part": "x", "words": "", "points": "-1"})
    html = refused.content.decode()
    assert refused.status_code == 422 and "This is needed" in html and "0 or more" in html
    copied = coordinator.post(
        f"/set-up/mark-schemes/{scheme.pk}/copy/", {"name": "next year"}, follow=True
    )
    assert "next year has the same descriptors" in copied.content.decode()


def test_the_list_of_a_section_takes_as_many_statements_for_many_groups(
    laboratory: Laboratory, work: HandIn, assistant: Client
) -> None:
    def statements() -> int:
        with CaptureQueriesContext(connection) as found:
            page(assistant, section_page(laboratory))
        return len(found)

    statements()
    before = statements()
    for count in range(6):
        group = Group.objects.create(section=section_of(laboratory), code=f"X{count}")
        HandIn.objects.create(
            group=group, version=1, at=timezone.now(), by=laboratory.group,
            record=bytes(work.record), record_sha256=work.record_sha256,
        )  # fmt: skip
    assert statements() == before

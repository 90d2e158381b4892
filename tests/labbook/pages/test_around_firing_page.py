"""Around the firing on the pages: presence, checklist, notes at their field, what happened."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from labbook.actions import runs, sheets
from labbook.models import NoteAnswer, Run

from ..conftest import (
    BEFORE_FIRING,
    Laboratory,
    approved,
    completed,
    fill_in,
    fired,
    member,
    ready_to_fire,
    unknown,
)
from .conftest import HTMX


def html_of(client: Client, path: str) -> str:
    return client.get(path).content.decode()


def slot(html: str, field: str) -> str:
    """What stands in the slot for notes of a field."""
    found = re.search(rf'id="notes-{field}".*?(?=id="notes-|</section>|$)', html, re.DOTALL)
    assert found is not None, field
    return found[0]


def sentence_of(html: str, code: str) -> str:
    found = re.search(rf'name="sentence_{code}" value="([^"]*)"', html)
    assert found is not None, code
    return found[1]


def test_without_scripts_the_sheet_saves_who_is_here_too(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    second = member(laboratory, "Bo Reed")
    sent = {"shown": "", "present": [second.pk], "writer": second.pk, "room_c": "21.5"}
    assert group.post(f"/runs/{open_run.pk}/", sent).status_code == 302
    assert list(open_run.present.all()) == [second]
    assert open_run.entries.get().entered_by == second


def test_presence_refused_keeps_the_figures_and_says_why(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    sheets.note_presence(open_run, [laboratory.person], by=laboratory.group)
    sheets.enter_figure(
        open_run, "water_ml", "1.0", by=laboratory.group, entered_by=laboratory.person
    )
    response = group.post(
        f"/runs/{open_run.pk}/", {"shown": laboratory.person.pk, "room_c": "21.5"}
    )
    assert response.status_code == 422
    assert "Already wrote on this sheet" in response.content.decode()
    assert open_run.entries.filter(field="room_c").exists()


def test_somebody_ticked_on_another_pc_stays_present(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    second = member(laboratory, "Bo Reed")
    sheets.note_presence(open_run, [second], by=laboratory.group)
    sent = {"shown": "", "present": [laboratory.person.pk]}
    group.post(f"/runs/{open_run.pk}/present/", sent, headers=HTMX)
    assert set(open_run.present.all()) == {laboratory.person, second}


def test_an_item_is_ticked_by_the_person_chosen_once(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    sheets.note_presence(open_run, [laboratory.person], by=laboratory.group)
    path = f"/runs/{open_run.pk}/checklist/"
    refused = group.post(path, {"tick": "0"}, headers=HTMX)
    assert refused.status_code == 409
    assert "Choose first who goes through" in refused.content.decode()
    group.post(path, {"person": laboratory.person.pk}, headers=HTMX)
    html = group.post(path, {"tick": "1"}, headers=HTMX).content.decode()
    assert 'aria-pressed="true"' in html and "Ada Quill, " in html
    assert "5 items of the checklist" in html, "the next step follows"
    assert open_run.checks.get().person == laboratory.person


@pytest.mark.parametrize("number", ["99", "-1", "abc", ""])
def test_an_item_that_is_not_on_the_list_is_refused(
    laboratory: Laboratory, group: Client, open_run: Run, number: str
) -> None:
    sheets.note_presence(open_run, [laboratory.person], by=laboratory.group)
    sent = {"person": laboratory.person.pk, "tick": number}
    assert group.post(f"/runs/{open_run.pk}/checklist/", sent).status_code == 409


def test_without_scripts_a_tick_saves_the_sheet_around_it(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    sheets.note_presence(open_run, [laboratory.person], by=laboratory.group)
    sent = {"person": laboratory.person.pk, "tick": "0", "room_c": "21.5"}
    response = group.post(f"/runs/{open_run.pk}/checklist/", sent)
    assert response["Location"] == f"/runs/{open_run.pk}/#checklist"
    assert open_run.entries.get().text == "21.5" and open_run.checks.exists()


def test_the_first_button_of_the_sheet_saves_it(group: Client, open_run: Run) -> None:
    """Enter in a browser without scripts presses the first button of a form."""
    form = html_of(group, f"/runs/{open_run.pk}/").split('<form class="sheet')[1]
    assert "Save the sheet" in form.split("<button")[1]


def test_prediction_is_shown_before_firing_with_its_source(
    laboratory: Laboratory, group: Client
) -> None:
    approved(laboratory)
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    fill_in(run, BEFORE_FIRING, laboratory.group)
    html = re.sub(r"(<[^>]+>|\s)+", " ", html_of(group, f"/runs/{run.pk}/"))
    # 0.9876 g × 26 434 J/g = 26.1 kJ; the runs before rose by 2.5 K.
    assert re.search(r"release about 26.1 kJ", html)
    assert re.search(r"warm by about 2.5 K", html)
    assert "the heat capacity in force" in html


def test_a_new_bench_says_that_the_rise_is_not_known(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    fill_in(open_run, BEFORE_FIRING, laboratory.group)
    assert "no heat capacity was approved on this bench yet" in html_of(
        group, f"/runs/{open_run.pk}/"
    )


def test_nothing_is_predicted_of_an_unknown(laboratory: Laboratory, group: Client) -> None:
    run = ready_to_fire(unknown(laboratory), laboratory)
    html = html_of(group, f"/runs/{run.pk}/")
    assert "press at most" in html
    assert "will release about" not in html and "will warm by" not in html


def test_a_note_stands_at_its_field_also_when_another_was_saved(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    sheets.enter_figure(open_run, "standard_lot", "S1", by=laboratory.group)
    sheets.enter_figure(open_run, "charge_gross_g", "13.1000", by=laboratory.group)
    path = f"/runs/{open_run.pk}/figures/charge_tare_g/"
    html = group.post(path, {"charge_tare_g": "13.0000"}, headers=HTMX).content.decode()
    assert "0.1000 g; at least 0.3 g was expected" in slot(html, "charge_gross_g")
    assert 'id="notes-standard_lot"' not in html, "a note that did not change is left alone"


def test_what_blocks_stands_at_its_field_as_well(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    path = f"/runs/{open_run.pk}/figures/oxygen_atm/"
    html = group.post(path, {"oxygen_atm": "38"}, headers=HTMX).content.decode()
    assert "38 atm is above this bench’s limit of 30" in slot(html, "oxygen_atm")
    assert "locked until a TA unlocks it" in html


def test_an_answer_takes_the_place_of_the_question(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    ready_to_fire(open_run, laboratory, bucket_gross_g="2750.0")
    path = f"/runs/{open_run.pk}/"
    before = html_of(group, path)
    sent = {
        "answer": "as it is",
        "words_other_bucket_water": "bucket B",
        "sentence_other_bucket_water": sentence_of(before, "other_bucket_water"),
    }
    html = group.post(f"{path}notes/other_bucket_water/", sent, headers=HTMX).content.decode()
    assert "It is right as it is" in slot(html, "bucket_gross_g") and "bucket B" in html
    assert 'name="sentence_other_bucket_water"' not in html_of(group, path)
    sheets.enter_figure(open_run, "bucket_gross_g", "2760.0", by=laboratory.group)
    assert 'name="sentence_other_bucket_water"' in html_of(group, path), "other figures"


def test_a_certificate_confirmed_once_is_not_asked_again(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    ready_to_fire(open_run, laboratory)
    html = html_of(group, f"/runs/{open_run.pk}/")
    sent = {
        "answer": "as it is",
        "sentence_certificate_basis": sentence_of(html, "certificate_basis"),
    }
    assert group.post(f"/runs/{open_run.pk}/notes/certificate_basis/", sent).status_code == 302
    second = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    ready_to_fire(second, laboratory)
    html = html_of(group, f"/runs/{second.pk}/")
    assert 'name="sentence_certificate_basis"' not in html and "Factor 1.00076" in html


def test_an_answer_to_nothing_is_refused(group: Client, open_run: Run) -> None:
    for code in ("other_bucket_water", "nothing"):
        response = group.post(f"/runs/{open_run.pk}/notes/{code}/", {"answer": "as it is"})
        assert response.status_code == 409
    assert not NoteAnswer.objects.exists()


def test_notes_of_a_complete_run_are_answered_on_its_sheet(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    completed(open_run, laboratory, bucket_gross_g="2750.0")
    path = f"/runs/{open_run.pk}/"
    html = html_of(group, path)
    sent = {
        "answer": "asked",
        "sentence_other_bucket_water": sentence_of(html, "other_bucket_water"),
    }
    assert group.post(f"{path}notes/other_bucket_water/", sent).status_code == 302
    assert "The TA was asked" in html_of(group, path)
    assert "The TA was asked" in html_of(group, f"{path}result/")


def test_the_desk_lists_locked_firings_and_unanswered_notes(
    laboratory: Laboratory, assistant: Client, open_run: Run
) -> None:
    ready_to_fire(open_run, laboratory, oxygen_atm="38", bucket_gross_g="2750.0")
    html = html_of(assistant, "/review/")
    assert "Firings locked until you unlock them" in html and "38 atm is above" in html
    assert "Notes not answered yet" in html and "Water 1950.0 g" in html
    runs.unlock_limit(open_run, "oxygen", "gauge reads high", by=laboratory.assistant)
    assert "Firings locked" not in html_of(assistant, "/review/")


def test_more_runs_on_the_desk_take_no_more_queries(
    laboratory: Laboratory, assistant: Client
) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            assistant.get("/review/")
        return len(caught)

    def one_more() -> None:
        run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
        ready_to_fire(run, laboratory, charge_net_g="0.5")

    one_more()
    queries()
    with_one = queries()
    one_more()
    one_more()
    assert queries() == with_one


def test_the_reason_of_an_unlock_stays_on_the_sheet(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    ready_to_fire(open_run, laboratory, oxygen_atm="38")
    runs.unlock_limit(open_run, "oxygen", "gauge reads high", by=laboratory.assistant)
    path = f"/runs/{open_run.pk}/"
    assert "most oxygen pressure, by ta" in html_of(group, path)
    sheets.enter_figure(open_run, "oxygen_atm", "39", by=laboratory.group)
    html = html_of(group, path)
    assert "gauge reads high" in html and "It ended when the figures changed" in html


def test_the_standardization_shows_what_its_sheets_say(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    completed(open_run, laboratory, bucket_gross_g="2750.0")
    sent = {"kind": "late", "words": "two missed"}
    assert group.post(f"/runs/{open_run.pk}/happenings/", sent).status_code == 302
    html = html_of(group, f"/standardizations/{open_run.standardization_id}/")
    assert "Water 1950.0 g" in html and "Readings were late or missed: two missed" in html


def test_what_happened_comes_back_alone_and_refusals_keep_the_words(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    path = f"/runs/{open_run.pk}/happenings/"
    html = group.post(path, {"kind": "stirrer"}, headers=HTMX).content.decode()
    assert "<html" not in html and "The stirrer stopped" in html
    refused = group.post(path, {"kind": "", "words": "smoke"})
    assert refused.status_code == 409 and "smoke" in refused.content.decode()


def test_a_misfire_leads_to_the_next_run_in_one_action(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    fired(open_run, laboratory)
    path = f"/runs/{open_run.pk}/"
    assert "Stay clear and wait" in html_of(group, path)
    group.post(f"{path}misfire/", {"remark": "wire off its post"})
    html = html_of(group, path)
    assert "Open the next run with these materials" in html and "wire off its post" in html
    response = group.post(f"{path}again/")
    assert response["Location"] == f"/runs/{Run.objects.latest('pk').pk}/"


def test_a_figure_entered_late_is_stamped_so(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    completed(open_run, laboratory)
    with time_machine.travel(timezone.now() + timedelta(hours=2, minutes=5), tick=False):
        fill = {"room_c": "21", "reason": "forgotten"}
        group.post(f"/runs/{open_run.pk}/figures/room_c/", fill)
    html = html_of(group, f"/runs/{open_run.pk}/")
    assert re.search(r"Saved [\d:]+ by m1, entered 2 h 5 min after the firing", html)
    assert html.count("after the firing</p>") == 1


@pytest.mark.parametrize(
    ("address", "page"),
    [
        ("/runs/{pk}/fired/", "/runs/{pk}/"),
        ("/runs/{pk}/figures/room_c/", "/runs/{pk}/"),
        ("/benches/B1/log/fault/", "/benches/B1/log/"),
        ("/benches/B1/log/1/mended/", "/benches/B1/log/"),
        ("/breaks/1/", "/"),
    ],
)
def test_an_address_that_takes_forms_shows_the_way_back(
    group: Client, open_run: Run, address: str, page: str
) -> None:
    response = group.get(address.format(pk=open_run.pk))
    html = response.content.decode()
    assert response.status_code == 405 and response["Allow"] == "POST"
    assert "Nothing was changed" in html
    assert f'href="{page.format(pk=open_run.pk)}"' in html

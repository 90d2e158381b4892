"""The run sheet through its pages: saved field by field, or all at once without scripts."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from labbook.actions import sheets
from labbook.actions.setup import save_setup
from labbook.lookups.sheets import Sheet
from labbook.models import Person, Run

from ..conftest import BEFORE_FIRING, Laboratory, completed, member
from .conftest import HTMX


def figure(run: Run, key: str) -> str:
    return f"/runs/{run.pk}/figures/{key}/"


def test_a_saved_field_comes_back_stamped_and_alone(group: Client, open_run: Run) -> None:
    response = group.post(figure(open_run, "room_c"), {"room_c": "21.50"}, headers=HTMX)
    html = response.content.decode()
    assert response.status_code == 200 and "<html" not in html
    assert 'value="21.50"' in html
    assert re.search(r"Saved \d\d:\d\d:\d\d by m1", html)
    assert 'id="next-step"' in html
    assert "HX-Request" in response["Vary"]


def test_the_part_and_the_page_are_told_apart(group: Client, open_run: Run) -> None:
    path = f"/runs/{open_run.pk}/readings/"
    page, part = group.get(path), group.get(path, headers=HTMX)
    assert "<html" in page.content.decode() and "<html" not in part.content.decode()
    assert "HX-Request" in page["Vary"] and "HX-Request" in part["Vary"]


def test_without_htmx_saving_goes_back_to_the_sheet(group: Client, open_run: Run) -> None:
    response = group.post(figure(open_run, "room_c"), {"room_c": "21.50"})
    assert response.status_code == 302 and response["Location"] == f"/runs/{open_run.pk}/"


@pytest.mark.parametrize("headers", [{}, HTMX])
@pytest.mark.parametrize(
    ("key", "text"),
    [("room_c", "warm"), ("charge_gross_g", "1,234"), ("charge_gross_g", "-3"), ("soot", "lots")],
)
def test_what_is_refused_stays_in_its_field(
    group: Client, open_run: Run, key: str, text: str, headers: dict[str, str]
) -> None:
    response = group.post(figure(open_run, key), {key: text}, headers=headers)
    html = response.content.decode()
    assert response.status_code == 422
    assert f'id="field-{key}-error"' in html and text in html
    assert ("<html" in html) is not bool(headers)
    assert not open_run.entries.exists()


def test_the_whole_sheet_is_saved_without_scripts(group: Client, open_run: Run) -> None:
    sent = BEFORE_FIRING | {"room_c": "warm", "jacket_c": "21.0"}
    response = group.post(f"/runs/{open_run.pk}/", sent)
    html = response.content.decode()
    assert response.status_code == 422 and 'value="warm"' in html
    sheet = Sheet(Run.objects.get(pk=open_run.pk))
    assert sheet.text("jacket_c") == "21.0" and sheet.text("room_c") == ""
    assert {key: sheet.text(key) for key in BEFORE_FIRING} == BEFORE_FIRING
    assert group.post(f"/runs/{open_run.pk}/", sent | {"room_c": "21"}).status_code == 302


@pytest.mark.parametrize("headers", [{}, HTMX])
def test_two_people_in_one_field_see_both_texts(
    laboratory: Laboratory, group: Client, open_run: Run, headers: dict[str, str]
) -> None:
    theirs = sheets.enter_figure(open_run, "room_c", "21.5", by=laboratory.assistant)
    sent = {"room_c": "22.5", "seen_room_c": "0"}
    response = group.post(figure(open_run, "room_c"), sent, headers=headers)
    html = response.content.decode()
    assert response.status_code == 409
    assert ("<html" in html) is not bool(headers)
    assert all(told in html for told in ("21.5", "22.5", f'value="{theirs.pk}"', "by ta"))
    sent |= {"seen_room_c": str(theirs.pk)}
    assert group.post(figure(open_run, "room_c"), sent, headers=headers).status_code in (200, 302)
    assert Sheet(open_run).text("room_c") == "22.5"


def test_saving_the_whole_sheet_overwrites_nobody(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    sheets.enter_figure(open_run, "room_c", "21.5", by=laboratory.assistant)
    sent = {"room_c": "22.5", "seen_room_c": "0", "jacket_c": "20", "seen_jacket_c": "0"}
    response = group.post(f"/runs/{open_run.pk}/", sent)
    assert response.status_code == 422 and 'value="22.5"' in response.content.decode()
    assert Sheet(open_run).text("room_c") == "21.5" and Sheet(open_run).text("jacket_c") == "20"


@pytest.mark.parametrize("version", ["9" * 5000, "²", "-1", "abc", "99999", "\0", ""])
def test_a_version_that_is_none_is_taken_as_unknown(
    group: Client, open_run: Run, version: str
) -> None:
    sent = {"room_c": "21", "seen_room_c": version}
    assert group.post(figure(open_run, "room_c"), sent).status_code == 302


def test_a_correction_shows_the_struck_out_original_and_why(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    completed(open_run, laboratory)
    path = figure(open_run, "charge_gross_g")
    refused = group.post(path, {"charge_gross_g": "13.9867"})
    assert refused.status_code == 422 and 'value="13.9867"' in refused.content.decode()
    group.post(path, {"charge_gross_g": "13.9867", "reason": "digits <swapped>"})
    html = group.get(f"/runs/{open_run.pk}/").content.decode()
    struck = re.search(r"<del>.*?13\.9876.*?</li>", html, re.DOTALL)
    assert struck and "m1" in struck.group() and "digits &lt;swapped&gt;" in struck.group()


def test_a_reason_too_long_comes_back_with_the_figure(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    completed(open_run, laboratory)
    sent = {"charge_gross_g": "13.9867", "reason": "because " * 40}
    html = group.post(figure(open_run, "charge_gross_g"), sent).content.decode()
    assert "320 characters were typed; at most 200" in html and "because because" in html


def test_cautions_and_the_deferral_stand_before_firing(group: Client, open_run: Run) -> None:
    html = group.get(f"/runs/{open_run.pk}/").content.decode().lower()
    for word in ("stand clear", "leak", "pressure", "local codes", "decide"):
        assert word in html, word


def test_who_is_present_and_who_writes(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    second = member(laboratory, "Bo Reed")
    path = f"/runs/{open_run.pk}/present/"
    sent = {"present": [laboratory.person.pk, second.pk], "writer": second.pk}
    assert group.post(path, sent, headers=HTMX).status_code == 200
    group.post(figure(open_run, "room_c"), {"room_c": "21"})
    assert open_run.entries.get().entered_by == second
    group.post(f"/runs/{open_run.pk}/readings/typed/", {"time": "0", "temperature": "21"})
    assert open_run.blocks.get().read_details()[0]["person"] == second.pk


def test_the_writer_must_be_present(laboratory: Laboratory, group: Client, open_run: Run) -> None:
    absent = member(laboratory, "Bo Reed")
    path = f"/runs/{open_run.pk}/present/"
    sent = {"present": [laboratory.person.pk], "writer": absent.pk}
    response = group.post(path, sent)
    assert response.status_code == 409
    assert "must be marked as present" in response.content.decode()


@pytest.mark.parametrize("number", ["²", "abc", "9" * 5000, "9" * 30, "-1", "1.0", "\0", ""])
def test_numbers_that_are_none_are_nobody(
    laboratory: Laboratory, group: Client, open_run: Run, number: str
) -> None:
    path = f"/runs/{open_run.pk}/present/"
    sent = {"present": [number, str(laboratory.person.pk)], "writer": number}
    assert group.post(path, sent).status_code in (302, 409)
    assert list(open_run.present.all()) == [laboratory.person]


def test_somebody_of_another_group_is_refused_by_name(group: Client, open_run: Run) -> None:
    outsider = Person.objects.create(name="Cy Vale")
    response = group.post(f"/runs/{open_run.pk}/present/", {"present": [outsider.pk]})
    assert response.status_code == 409 and "Cy Vale" in response.content.decode()


def test_a_lot_changed_in_set_up_still_shows_how_it_read_when_it_was_entered(
    group: Client, open_run: Run, laboratory: Laboratory
) -> None:
    run = completed(open_run, laboratory)
    paths = (f"/runs/{run.pk}/", f"/runs/{run.pk}/paper/")
    assert not any("it read “" in group.get(path).content.decode() for path in paths)
    lot = run.fuse_lot
    assert lot is not None
    was, lot.material = lot.material, "another wire"
    save_setup(lot, by=laboratory.coordinator)
    for path in paths:
        html = group.get(path).content.decode()
        assert "another wire" in html and re.search(rf"it read “[^”]*{was}", html), path

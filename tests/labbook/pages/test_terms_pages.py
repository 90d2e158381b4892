"""The coordinator's pages of a term: begun, filled by a roster, slips, closed, cleared."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from labbook.actions.runs import open_standardization_run
from labbook.models import Account, Group, LegalHold, Membership, Person, Term

from ..conftest import Laboratory, member

ROSTER = "section;group;name;student number\n"


@pytest.fixture(autouse=True)
def data_folder(settings: object, tmp_path: Path) -> None:
    settings.DATA_DIR = tmp_path


def show(client: Client, term: Term, rows: str, **sent: str) -> str:
    file = SimpleUploadedFile("monday.csv", (ROSTER + rows).encode())
    sent = {"drops": "on", "places": "4"} | sent
    response = client.post(f"/terms/{term.pk}/roster/", {"file": file} | sent)
    assert response.status_code == 200
    return response.content.decode()


def hidden(html: str) -> dict[str, str]:
    """What the form that takes the preview in sends."""
    form = re.search(r'action="/terms/\d+/roster/take/">.*?</form>', html, re.DOTALL)
    assert form is not None
    return dict(re.findall(r'name="(\w+)" value="([^"]*)"', form[0]))


def test_a_roster_is_seen_before_it_is_taken_in(
    laboratory: Laboratory, coordinator: Client
) -> None:
    html = show(coordinator, laboratory.term, "Monday;M1;Bea Ash;8\nTuesday;T1;Cy Reed;9\n")
    assert "Added: 1" in html and "Dropped: the membership ends" in html
    assert "line 3" in html and "section “Tuesday”" in html
    assert not Person.objects.filter(name="Bea Ash").exists()
    sent = hidden(html)
    response = coordinator.post(f"/terms/{laboratory.term.pk}/roster/take/", sent, follow=True)
    assert "The roster is taken in: 1 add, 1 drop, 1 bad rows." in response.content.decode()
    live = Membership.objects.filter(until__isnull=True)
    assert [one.person.name for one in live] == ["Bea Ash"]


def test_when_the_term_moved_on_the_new_preview_comes_instead(
    laboratory: Laboratory, coordinator: Client
) -> None:
    sent = hidden(show(coordinator, laboratory.term, "Monday;M1;Bea Ash;8\n"))
    member(laboratory, "Di Moss")
    response = coordinator.post(f"/terms/{laboratory.term.pk}/roster/take/", sent)
    html = response.content.decode()
    assert response.status_code == 409 and "changed since this preview" in html
    assert "Di Moss" in html and hidden(html)["seen"] != sent["seen"]


def test_the_same_file_is_looked_at_again_with_other_choices(
    laboratory: Laboratory, coordinator: Client
) -> None:
    sent = hidden(show(coordinator, laboratory.term, "Tuesday;T1;Cy Reed;9\n", makes=""))
    again = {"kept": sent["kept"], "name": "r.csv", "makes": "on", "places": "4"}
    html = coordinator.post(f"/terms/{laboratory.term.pk}/roster/", again).content.decode()
    assert "Sections to be made: Tuesday" in html and "Tuesday T1" in html


@pytest.mark.parametrize(
    ("content", "words"), [(b"", "The file is empty"), (b"a,b\n1,2\n", "The first line reads")]
)
def test_a_file_that_is_no_roster_is_refused_at_its_field(
    laboratory: Laboratory, coordinator: Client, content: bytes, words: str
) -> None:
    sent = {"file": SimpleUploadedFile("r.csv", content), "places": "4"}
    response = coordinator.post(f"/terms/{laboratory.term.pk}/roster/", sent)
    assert response.status_code == 422 and words in response.content.decode()


def test_the_next_term_is_made_by_one_form(laboratory: Laboratory, coordinator: Client) -> None:
    page = coordinator.get(f"/terms/{laboratory.term.pk}/next/").content.decode()
    sent = dict(re.findall(r'<input type="date" name="(\w+)" value="([^"]+)"', page))
    assert re.fullmatch(r"\d{4}-\d\d-\d\d", sent["starts"]), "browsers show no other form"
    sent |= {"name": "spring", "method": str(laboratory.method.pk), "ours_unlock": "at once"}
    response = coordinator.post(f"/terms/{laboratory.term.pk}/next/", sent | {"bookings": "on"})
    made = Term.objects.get(name="spring")
    assert response["Location"] == f"/terms/{made.pk}/roster/"
    assert {group.bench for group in Group.objects.filter(section__term=made)} == {
        laboratory.bench,
        laboratory.other_bench,
    }
    refused = coordinator.post(f"/terms/{laboratory.term.pk}/next/", sent)
    assert refused.status_code == 422 and "already exists" in refused.content.decode()


def test_slips_are_on_the_answer_alone(laboratory: Laboratory, coordinator: Client) -> None:
    address = f"/terms/{laboratory.term.pk}/slips/"
    sent = {"group": [str(laboratory.group.group_id)], "paper": "letter"}
    response = coordinator.post(address, sent)
    html = response.content.decode()
    (phrase,) = re.findall(r"<dd>(\w+-\w+-\w+-\d{3})</dd>", html)
    assert "no-store" in response["Cache-Control"] and 'class="letter' in html
    sent = {"username": "m1", "password": phrase}
    assert Client().post("/sign-in/", sent).status_code == 302
    assert phrase not in coordinator.get(address).content.decode()
    assert coordinator.post(address, {}).status_code == 409


def test_one_button_ends_a_sign_in(laboratory: Laboratory, coordinator: Client) -> None:
    html = coordinator.get("/sign-ins/?find=other-ta").content.decode()
    (address,) = re.findall(r'action="(/sign-ins/\d+/end/)"', html)
    assert coordinator.post(address).status_code == 302
    assert not Account.objects.get(username="other-ta").is_active
    html = coordinator.get("/sign-ins/").content.decode()
    (address,) = re.findall(r'action="(/sign-ins/\d+/open/)"', html)
    coordinator.post(address)
    assert Account.objects.get(username="other-ta").is_active


def test_what_stands_against_closing_is_led_to(laboratory: Laboratory, coordinator: Client) -> None:
    run = open_standardization_run(laboratory.bench, by=laboratory.group)
    html = coordinator.get(f"/terms/{laboratory.term.pk}/close/").content.decode()
    assert f'href="/runs/{run.pk}/">Open run {run.pk}</a>' in html
    assert f'href="/standardizations/{run.standardization_id}/"' in html


def test_a_term_is_closed_and_its_archive_taken(
    laboratory: Laboratory, coordinator: Client
) -> None:
    address = f"/terms/{laboratory.term.pk}/close/"
    assert "runs until" in coordinator.get(address).content.decode()
    assert coordinator.post(address).status_code == 409
    assert coordinator.post(f"{address}archive/").status_code == 404
    laboratory.term.ends = laboratory.term.starts
    laboratory.term.save()
    coordinator.post(address)
    assert "It holds no names" in coordinator.get(address).content.decode()
    archive = coordinator.post(f"{address}archive/")
    assert b"".join(archive.streaming_content).startswith(b"PK")
    assert "Ada Quill" in coordinator.post(f"{address}people/").content.decode()
    assert "student_number,name,group" in coordinator.post(f"{address}marks/").content.decode()


def test_a_hold_is_set_and_lifted_and_names_are_removed(
    laboratory: Laboratory, coordinator: Client
) -> None:
    laboratory.term.names_until = laboratory.term.starts
    laboratory.term.save()
    address = f"/terms/{laboratory.term.pk}/kept/"
    coordinator.post(f"{address}hold/", {"reason": "an appeal"})
    assert "an appeal" in coordinator.get(address).content.decode()
    removed = coordinator.post(f"{address}remove/", {"what": "names", "typed": "autumn"})
    assert removed.status_code == 409
    coordinator.post(f"/holds/{LegalHold.objects.get().pk}/lift/", {"reason": "settled"})
    coordinator.post(f"{address}remove/", {"what": "names", "typed": "autumn"})
    html = coordinator.get(address).content.decode()
    assert "people 1" in html and "Ada Quill" not in html
    assert Person.objects.get().name.startswith("person ")

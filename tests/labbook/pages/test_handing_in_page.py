"""The page of handing in: what is missing, the versions, the files to take away."""

from __future__ import annotations

from django.test import Client

from labbook.actions.sheets import enter_figure
from labbook.models import HandIn, Term

from .conftest import Afternoon


def page_of(client: Client, afternoon: Afternoon, rest: str = "") -> str:
    response = client.get(f"/groups/{afternoon.lab.group.group_id}/handing-in/{rest}")
    assert response.status_code == 200
    return response.content.decode()


def test_it_says_what_changed_and_takes_the_next_version(afternoon: Afternoon) -> None:
    group = afternoon.client("group")
    assert "Nothing has changed" in page_of(group, afternoon)
    enter_figure(
        afternoon.run, "titre_ml", "8.4", reason="misread the burette", by=afternoon.lab.group
    )
    page = page_of(group, afternoon)
    assert f"(run {afternoon.run.pk}): titre of the washings" in page
    sent = {"words": "the titre", "person": str(afternoon.lab.person.pk)}
    address = f"/groups/{afternoon.lab.group.group_id}/handing-in/hand-in/"
    assert group.post(address, sent, follow=True).status_code == 200
    newest = HandIn.objects.get(version=2)
    assert (newest.words, newest.entered_by) == ("the titre", afternoon.lab.person)
    assert group.post(address, sent).status_code == 409


def test_versions_stay_readable_by_the_group_and_its_staff(afternoon: Afternoon) -> None:
    for persona in ("group", "assistant", "coordinator"):
        page = page_of(afternoon.client(persona), afternoon, "1/")
        assert f"run-{afternoon.run.pk}/working.html" in page


def test_a_group_gets_no_file_of_what_is_not_shown_yet(afternoon: Afternoon) -> None:
    Term.objects.update(ours_unlock="never")
    group = afternoon.client("group")
    assert "Some computed values are not shown" in page_of(group, afternoon, "1/")
    working = f"/groups/{afternoon.lab.group.group_id}/handing-in/1/files/"
    name = f"run-{afternoon.run.pk}/working.html"
    assert group.get(working + name).status_code == 404
    assert afternoon.client("assistant").get(working + name).status_code == 200

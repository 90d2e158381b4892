"""Groups that share a PC: two actions to switch, one to sign all out, nothing seen of another."""

from __future__ import annotations

import pytest
from django.test import Client

from labbook.actions.runs import open_standardization_run
from labbook.models import Account

from ..conftest import Laboratory

PASSWORD = "a long phrase"
ANOTHER = "/sign-in/another/"


@pytest.fixture
def lab(laboratory: Laboratory) -> Laboratory:
    for account in Account.objects.all():
        account.set_password(PASSWORD)
        account.save()
    return laboratory


def sign_in(client: Client, who: Account, path: str = "/sign-in/", **more: str) -> str:
    sent = {"username": who.username, "password": PASSWORD} | more
    response = client.post(path, sent)
    assert response.status_code == 302, response.content.decode()
    return str(response["Location"])


def acting(client: Client) -> int:
    return int(client.session["_auth_user_id"])


@pytest.fixture
def shared(lab: Laboratory) -> Client:
    """A PC at which the group and then the strangers have signed in."""
    client = Client()
    sign_in(client, lab.group)
    sign_in(client, lab.stranger, ANOTHER)
    return client


def switch(client: Client, who: Account) -> int:
    return client.post("/sign-in/switch/", {"account": who.pk}).status_code


def test_switching_takes_one_choice_from_the_menu(lab: Laboratory, shared: Client) -> None:
    assert acting(shared) == lab.stranger.pk
    assert "Go on as m1, Monday" in shared.get("/afternoon/").content.decode()
    before = shared.session.session_key
    assert switch(shared, lab.group) == 302
    assert acting(shared) == lab.group.pk and shared.session.session_key != before
    assert "Go on as f1, Friday" in shared.get("/afternoon/").content.decode()
    assert switch(shared, lab.stranger) == 302 and acting(shared) == lab.stranger.pk


def test_pages_act_for_the_group_chosen_last_only(lab: Laboratory, shared: Client) -> None:
    run = open_standardization_run(lab.bench, by=lab.group)
    assert shared.get(f"/runs/{run.pk}/").status_code == 404
    assert shared.post(f"/runs/{run.pk}/figures/room_c/", {"room_c": "21"}).status_code == 404
    switch(shared, lab.group)
    assert shared.get(f"/runs/{run.pk}/").status_code == 200


def test_nobody_is_switched_to_who_has_not_signed_in_here(lab: Laboratory) -> None:
    client = Client()
    sign_in(client, lab.group)
    for other in (lab.stranger, lab.assistant, lab.coordinator):
        assert switch(client, other) == 409
    for nonsense in ("", "x", "-1"):
        assert client.post("/sign-in/switch/", {"account": nonsense}).status_code == 409
    assert acting(client) == lab.group.pk


def test_signing_out_ends_every_group_at_once(lab: Laboratory, shared: Client) -> None:
    shared.post("/sign-out/")
    assert shared.get("/afternoon/")["Location"].startswith("/sign-in/")
    sign_in(shared, lab.group)
    assert switch(shared, lab.stranger) == 409


def test_a_changed_password_ends_the_sign_in_that_was_kept(lab: Laboratory, shared: Client) -> None:
    lab.group.set_password("another long phrase")
    lab.group.save()
    assert "Go on as" not in shared.get("/afternoon/").content.decode()
    assert switch(shared, lab.group) == 409 and acting(shared) == lab.stranger.pk


def test_a_closed_sign_in_is_not_kept(lab: Laboratory, shared: Client) -> None:
    Account.objects.filter(pk=lab.group.pk).update(is_active=False)
    assert switch(shared, lab.group) == 409


def test_a_sign_in_of_staff_ends_the_groups_and_stands_alone(
    lab: Laboratory, shared: Client
) -> None:
    sign_in(shared, lab.assistant, ANOTHER)
    assert acting(shared) == lab.assistant.pk
    for group in (lab.group, lab.stranger):
        assert switch(shared, group) == 409
    assert shared.get(ANOTHER)["Location"] == "/"
    assert "switch-group" not in shared.get("/review/").content.decode()


def test_who_is_writing_is_asked_anew_after_a_switch(lab: Laboratory, shared: Client) -> None:
    session = shared.session
    session["writer"] = lab.person.pk
    session.save()
    switch(shared, lab.group)
    assert "writer" not in shared.session


def test_a_wrong_password_keeps_the_first_group(lab: Laboratory) -> None:
    client = Client()
    sign_in(client, lab.group)
    sent = {"username": lab.stranger.username, "password": "wrong"}
    html = client.post(ANOTHER, sent).content.decode()
    assert "do not go together" in html and "m1 stays signed in here" in html
    assert acting(client) == lab.group.pk


@pytest.mark.parametrize(
    ("asked", "led"),
    [
        ("/runs/1/", "/runs/1/"),
        ("/at/ABCDEFGH/", "/at/ABCDEFGH/"),
        ("https://elsewhere.example/", "/"),
        ("//elsewhere.example/", "/"),
        ("javascript:alert(1)", "/"),
        ("", "/"),
    ],
)
def test_the_page_asked_for_follows_the_sign_in_and_no_other_site(
    lab: Laboratory, asked: str, led: str
) -> None:
    assert sign_in(Client(), lab.group, next=asked) == led
    shown = Client().get("/sign-in/", {"next": asked}).content.decode()
    assert f'name="next" value="{asked}"' in shown if led != "/" else "elsewhere" not in shown

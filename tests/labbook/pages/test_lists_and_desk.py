"""The afternoon of a group, the review desk, the list of runs, a set, samples and set-up."""

from __future__ import annotations

import pytest
from django.test import Client

from labbook.actions import runs, standardizations
from labbook.actions.samples import issue_sample
from labbook.models import Account, Group, Membership, Method, Run, Sample, Substance

from ..conftest import (
    Laboratory,
    account,
    approved,
    completed,
    put_forward,
    signed_in,
    standardized,
)
from .conftest import HTMX, Afternoon


def test_everybody_starts_on_their_own_page(laboratory: Laboratory) -> None:
    starts = {"group": "/afternoon/", "assistant": "/review/", "coordinator": "/benches/"}
    for persona, path in starts.items():
        assert signed_in(getattr(laboratory, persona)).get("/")["Location"] == path


def test_signing_in_by_password_and_out_again(laboratory: Laboratory) -> None:
    who = laboratory.group
    who.set_password("a long phrase")
    who.save()
    client = Client()
    sent = {"username": " M1 ", "password": "a long phrase"}
    assert client.post("/sign-in/", sent | {"password": "wrong"}).status_code == 200
    assert client.post("/sign-in/", sent).status_code == 302
    assert client.get("/afternoon/").status_code == 200
    client.post("/sign-out/")
    assert client.get("/afternoon/").status_code == 302


def test_a_closed_sign_in_is_out_at_once(laboratory: Laboratory, group: Client) -> None:
    assert group.get("/afternoon/").status_code == 200
    Account.objects.filter(pk=laboratory.group.pk).update(is_active=False)
    assert group.get("/afternoon/").status_code in (302, 403)


def test_the_desk_shows_what_waits_and_takes_it_off_when_decided(
    laboratory: Laboratory, assistant: Client
) -> None:
    found = put_forward(laboratory)
    assert f"/standardizations/{found.pk}/" in assistant.get("/review/").content.decode()
    other = signed_in(laboratory.other_assistant).get("/review/").content.decode()
    assert f"/standardizations/{found.pk}/" not in other
    standardizations.send_back(found, "look again", by=laboratory.assistant)
    assert f"/standardizations/{found.pk}/" not in assistant.get("/review/").content.decode()


def test_the_list_narrows_and_the_part_comes_alone(
    laboratory: Laboratory, assistant: Client
) -> None:
    standardized(laboratory, (2.5,))
    runs.open_other_run(laboratory.bench, "practice", by=laboratory.group)
    assert assistant.get("/runs/").context["page_obj"].paginator.count == 2
    part = assistant.get("/runs/", {"kind": "practice", "bench": "B1"}, headers=HTMX)
    assert part.context["page_obj"].paginator.count == 1
    assert "<html" not in part.content.decode() and "HX-Request" in part["Vary"]
    for odd in ({"kind": "x" * 5000}, {"page": "99999999999999999999"}):
        assert assistant.get("/runs/", odd).status_code == 200
    # SQLite has no such group; PostgreSQL cannot be asked for a zero byte at all.
    assert assistant.get("/runs/", {"group": "\0"}).status_code in (200, 409)


def test_a_ta_sees_the_runs_of_their_sections_alone(laboratory: Laboratory) -> None:
    standardized(laboratory, (2.5,))
    assert (
        signed_in(laboratory.other_assistant).get("/runs/").context["page_obj"].paginator.count == 0
    )


def test_a_group_sees_dependents_of_its_own_set_that_are_its_own(afternoon: Afternoon) -> None:
    path = f"/standardizations/{afternoon.standardization.pk}/"
    others = Group.objects.create(
        section=afternoon.lab.group.group.section, code="M2", bench=afternoon.lab.bench
    )
    neighbour = account("m2", "group", group=others)
    issue_sample(afternoon.lab.sample, others, by=afternoon.lab.assistant)
    theirs = runs.open_unknown_run(afternoon.lab.bench, afternoon.lab.sample, by=neighbour)
    seen = {persona: afternoon.client(persona).get(path).content.decode()
            for persona in ("group", "assistant")}  # fmt: skip
    assert f"/runs/{theirs.pk}/result/" in seen["assistant"]
    assert f"/runs/{theirs.pk}/result/" not in seen["group"]
    assert f"/runs/{afternoon.run.pk}/result/" in seen["group"]


def test_withdrawing_shows_on_the_run_that_rested_on_it(afternoon: Afternoon) -> None:
    client = afternoon.client("assistant")
    path = f"/standardizations/{afternoon.standardization.pk}/withdraw/"
    assert client.post(path, {"reason": " "}).status_code == 409
    assert client.post(path, {"reason": "wrong lot"}).status_code == 302
    for persona in ("group", "assistant"):
        html = afternoon.client(persona).get(f"/runs/{afternoon.run.pk}/result/").content.decode()
        assert "approval this run rests on was withdrawn" in html


@pytest.mark.parametrize("deed", ["approve", "send-back", "withdraw", "close"])
def test_the_deeds_of_staff_are_not_on_a_groups_page_nor_behind_it(
    laboratory: Laboratory, group: Client, deed: str
) -> None:
    path = f"/standardizations/{put_forward(laboratory).pk}/"
    assert f"{path}{deed}/" not in group.get(path).content.decode()
    assert group.post(f"{path}{deed}/", {"reason": "x", "seen": "x"}).status_code == 403


def test_signing_and_taking_up_through_the_result_page(
    laboratory: Laboratory, assistant: Client, open_run: Run
) -> None:
    completed(open_run, laboratory)
    path = f"/runs/{open_run.pk}/"
    assert assistant.post(f"{path}sign/").status_code == 302
    assert assistant.post(f"{path}sign/").status_code == 409
    assert assistant.post(f"{path}take-up/", {"reason": "mass misread"}).status_code == 302
    html = assistant.get(f"{path}result/").content.decode()
    assert "mass misread" in html and f"{path}sign/" in html


def test_revealing_is_done_once_and_by_staff(afternoon: Afternoon) -> None:
    path = f"/samples/{afternoon.lab.sample.pk}/reveal/"
    client = afternoon.client("coordinator")
    assert client.post(path).status_code == 302
    assert client.post(path).status_code == 409
    assert client.post("/samples/99999999999999999999/reveal/").status_code == 404


def test_samples_of_the_same_label_in_two_terms_are_told_apart(
    laboratory: Laboratory, group: Client
) -> None:
    approved(laboratory)
    term = laboratory.term
    term.pk, term._state.adding, term.name = None, True, "another"
    term.save()
    Sample.objects.create(
        term=term, label="U-1", substance=laboratory.sample.substance, max_charge_g="0.5"
    )
    sent = {"bench": "B1", "kind": "unknown", "sample": "U-1"}
    assert group.post("/runs/open/", sent).status_code == 302
    assert Run.objects.get(kind="unknown").sample == laboratory.sample


def test_set_up_gives_back_what_was_typed(coordinator: Client) -> None:
    sent = {"name": "sugar", "formula": "C12Q22", "phase": "s"}
    response = coordinator.post("/set-up/substances/new/", sent)
    html = response.content.decode()
    assert response.status_code == 422 and 'value="C12Q22"' in html
    assert 'class="errorlist"' in html and not Substance.objects.filter(name="sugar").exists()


@pytest.mark.parametrize(
    ("kind", "sent", "said"),
    [
        ("substances", {"name": "a", "formula": "CO2", "phase": "s",
                        "literature_dch_kj_per_mol": "-1"}, "needs its citation"),
        ("terms", {"name": "t", "starts": "2030-02-01", "ends": "2030-01-01", "method": "1"},
         "ends before it starts"),
        ("sign-ins", {"username": "x", "name": "x", "role": "group", "password": "long enough"},
         "needs its group"),
        ("sign-ins", {"username": "x", "name": "x", "role": "assistant"}, "needs a password"),
        ("benches", {"code": "B1"}, "already exists"),
        ("members", {"group": "²", "person": "9" * 30, "since": "soon"}, "not in the list"),
    ],
)  # fmt: skip
def test_set_up_refuses_with_the_reason(
    coordinator: Client, kind: str, sent: dict[str, str], said: str
) -> None:
    response = coordinator.post(f"/set-up/{kind}/new/", sent)
    assert response.status_code == 422 and said in response.content.decode()


def test_a_changed_method_is_kept_as_its_next_version(coordinator: Client) -> None:
    method = Method.objects.get()
    path = f"/set-up/methods/{method.pk}/"
    form = coordinator.get(path).context["form"]
    values = {name: form[name].value() for name in form.fields}
    sent = {name: value for name, value in values.items() if value not in (False, None)}
    assert coordinator.post(path, sent | {"min_replicates": "3"}).status_code == 302
    assert [(m.version, m.min_replicates) for m in Method.objects.order_by("version")] == [
        (1, 2),
        (2, 3),
    ]


def test_a_member_is_kept_with_who_did_it(laboratory: Laboratory, coordinator: Client) -> None:
    sent = {"name": "Bo Reed"}
    assert coordinator.post("/set-up/people/new/", sent).status_code == 302
    assert not Membership.objects.filter(person__name="Bo Reed").exists()
    made = laboratory.person.history.model.objects.get(name="Bo Reed")
    assert made.history_user == laboratory.coordinator


def test_a_method_keeps_only_the_settings_that_were_given(coordinator: Client) -> None:
    path = f"/set-up/methods/{Method.objects.get().pk}/"
    form = coordinator.get(path).context["form"]
    values = {name: form[name].value() for name in form.fields}
    sent = {name: value for name, value in values.items() if value not in (False, None)}
    given = sent | {"input_uncertainties-weighing_g": "0.0002", "thresholds-water_g": "8"}
    assert coordinator.post(path, given).status_code == 302
    newest = Method.objects.order_by("-version").first()
    assert newest is not None
    assert newest.input_uncertainties == {"weighing_g": 0.0002}
    assert newest.thresholds == {"water_g": 8.0}
    refused = coordinator.post(path, given | {"thresholds-rating_readings": "1"})
    assert refused.status_code == 422
    assert "rating_readings" not in str(Method.objects.order_by("-version").first().thresholds)

"""What programs may read: within the reach of an account, without names, described and paged."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from labbook.actions.reading_tokens import make_reading_token, revoke_reading_token
from labbook.actions.samples import reveal_sample
from labbook.models import Account, ReadingToken, Run, Term
from labbook.problems import Refused

from ..conftest import Laboratory, approved, completed, signed_in, unknown
from ..leaks import found_in
from .conftest import Sender

ROOT = "/api/v1/"


def reader(account: Account) -> Client:
    _, token = make_reading_token("a report", by=account)
    return Client(headers={"Authorization": f"Bearer {token}"})


def answers(client: Client, run: Run) -> Iterator[Any]:
    """Every address about the run and what it rests on."""
    for path in (
        "terms",
        "benches",
        f"benches/{run.bench.code}/history",
        "runs",
        f"runs/{run.pk}",
        f"runs/{run.pk}/readings",
        f"runs/{run.pk}/result",
        f"standardizations/{run.rests_on_id or run.standardization_id}",
    ):
        response = client.get(ROOT + path)
        assert response.status_code == 200, path
        yield response


@pytest.fixture
def burned(laboratory: Laboratory) -> Run:
    """A burned unknown whose sample is hidden."""
    return completed(unknown(laboratory), laboratory, rise_k=2.31)


def test_a_token_reaches_as_far_as_its_account(laboratory: Laboratory, burned: Run) -> None:
    for account, status in (
        (laboratory.coordinator, 200),
        (laboratory.assistant, 200),
        (laboratory.other_assistant, 404),
    ):
        client = reader(account)
        for path in ("", "/readings", "/result"):
            assert client.get(f"{ROOT}runs/{burned.pk}{path}").status_code == status
        assert client.get(f"{ROOT}standardizations/{burned.rests_on_id}").status_code == status
        listed = client.get(f"{ROOT}runs").json()["runs"]
        assert bool(listed) is (status == 200)


def test_groups_have_no_tokens(laboratory: Laboratory) -> None:
    with pytest.raises(PermissionDenied):
        make_reading_token("ours", by=laboratory.group)


def test_only_a_token_in_force_is_answered(
    laboratory: Laboratory, burned: Run, sender: Sender
) -> None:
    path = f"{ROOT}runs/{burned.pk}"
    assert signed_in(laboratory.coordinator).get(path).status_code == 401
    of_device = {"Authorization": f"Bearer {sender.token}"}
    assert Client(headers=of_device).get(path).status_code == 401
    token, text = make_reading_token("a report", by=laboratory.assistant)
    client = Client(headers={"Authorization": f"Bearer {text}"})
    assert client.get(path).status_code == 200
    assert client.get(f"{ROOT}ping").status_code == 401
    Account.objects.filter(pk=laboratory.assistant.pk).update(is_active=False)
    assert client.get(path).status_code == 401
    Account.objects.filter(pk=laboratory.assistant.pk).update(is_active=True)
    revoke_reading_token(token, by=laboratory.assistant)
    refused = client.get(path)
    assert refused.status_code == 401 and refused["WWW-Authenticate"] == "Bearer"


def test_a_token_is_ended_by_its_maker_or_a_coordinator_alone(laboratory: Laboratory) -> None:
    token, _ = make_reading_token("a report", by=laboratory.assistant)
    with pytest.raises(Refused, match="not yours"):
        revoke_reading_token(token, by=laboratory.other_assistant)
    assert revoke_reading_token(token, by=laboratory.coordinator).is_revoked


def test_its_use_is_noted_once_a_minute(laboratory: Laboratory) -> None:
    client = reader(laboratory.coordinator)
    client.get(f"{ROOT}terms")
    first = ReadingToken.objects.get().last_used_at
    assert first is not None and (timezone.now() - first).total_seconds() < 60
    client.get(f"{ROOT}terms")
    assert ReadingToken.objects.get().last_used_at == first


def test_nobody_is_named(laboratory: Laboratory, burned: Run) -> None:
    for response in answers(reader(laboratory.coordinator), burned):
        told = response.content.decode()
        for name in ("Ada Quill", "M1", "Monday", '"m1"', '"ta"', '"coordinator"'):
            assert name not in told, (response.request["PATH_INFO"], name)


def test_what_is_in_a_sample_is_told_to_no_program_before_the_reveal(
    laboratory: Laboratory, burned: Run
) -> None:
    client = reader(laboratory.coordinator)
    for response in answers(client, burned):
        assert found_in(response.content.decode()) == set(), response.request["PATH_INFO"]
    reveal_sample(laboratory.sample, by=laboratory.coordinator)
    told = client.get(f"{ROOT}runs/{burned.pk}").json()
    assert (told["substance"], told["formula"], told["is_hidden"]) == (
        "naphthalene",
        "C10H8",
        False,
    )


def test_a_result_comes_with_its_uncertainty_unit_method_and_sources(
    laboratory: Laboratory, burned: Run
) -> None:
    """Expanded uncertainty is k times the standard one: JCGM 100:2008, 6.2.1."""
    told = reader(laboratory.coordinator).get(f"{ROOT}runs/{burned.pk}/result").json()
    assert told["method"] == str(burned.method) and told["version"]
    by_quantity = {value["quantity"]: value for value in told["values"] if value["is_used"]}
    heat = by_quantity["energy_of_combustion_per_gram"]
    assert heat["unit"] == "J/g" and heat["value"] < 0
    product = heat["coverage_factor"] * heat["standard_uncertainty"]
    assert math.isclose(heat["expanded_uncertainty"], product, rel_tol=1e-12)
    assert by_quantity["corrected_rise"]["value"] == pytest.approx(2.31, rel=1e-3)
    assert by_quantity["corrected_rise"]["standard_uncertainty"] > 0
    assert all(constant["source"] and constant["unit"] for constant in told["constants"])
    assert {"charge_g", "heat_capacity.j_per_k"} <= {one["key"] for one in told["inputs"]}


def test_a_run_without_a_result_says_so(laboratory: Laboratory, burned: Run) -> None:
    Run.objects.filter(pk=burned.pk).update(result=None)
    told = reader(laboratory.coordinator).get(f"{ROOT}runs/{burned.pk}/result").json()
    assert (told["at"], told["values"], told["inputs"]) == (None, [], [])


def test_pieces_of_a_list_hold_every_run_once(laboratory: Laboratory) -> None:
    numbers = [run.pk for run in approved(laboratory).runs.order_by("pk")]
    client, seen, after = reader(laboratory.coordinator), [], 0
    while after is not None:
        piece = client.get(f"{ROOT}runs", {"limit": 2, "after": after}).json()
        seen += [run["number"] for run in piece["runs"]]
        after = piece["next_after"]
    assert seen == numbers
    readings = client.get(f"{ROOT}runs/{numbers[0]}/readings", {"limit": 30}).json()
    rest = client.get(f"{ROOT}runs/{numbers[0]}/readings", {"after": 30}).json()
    whole = [one["number"] for one in readings["readings"] + rest["readings"]]
    assert whole == list(range(1, 82)) and (readings["next_after"], rest["next_after"]) == (
        30,
        None,
    )


def test_a_list_of_more_runs_takes_no_more_queries(laboratory: Laboratory, burned: Run) -> None:
    client, counts = reader(laboratory.coordinator), []
    client.get(f"{ROOT}terms")  # its use is noted now, and not again
    for limit in (2, 4):
        with CaptureQueriesContext(connection) as queries:
            assert len(client.get(f"{ROOT}runs", {"limit": limit}).json()["runs"]) == limit
        counts.append(len(queries))
    assert counts[0] == counts[1] <= 4


def test_runs_are_asked_for_by_term_bench_state_and_day(
    laboratory: Laboratory, burned: Run
) -> None:
    client = reader(laboratory.coordinator)
    today = timezone.now().date()

    def count(**asked: Any) -> int:
        return len(client.get(f"{ROOT}runs", asked).json()["runs"])

    assert count() == count(term="autumn") == count(bench="B1") == 4
    assert count(term="spring") == count(bench="B2") == count(state="open") == 0
    assert count(since=f"{today}") == 4 and count(since=f"{today.year + 1}-01-01") == 0
    Term.objects.update(is_practice=True)
    assert count() == 0 and count(practice="true") == 4


def test_an_answer_known_already_is_not_sent_again(laboratory: Laboratory, burned: Run) -> None:
    client, path = reader(laboratory.coordinator), f"{ROOT}runs/{burned.pk}"
    first = client.get(path)
    again = client.get(path, headers={"If-None-Match": first["ETag"]})
    assert again.status_code == 304 and again.content == b""
    reveal_sample(laboratory.sample, by=laboratory.coordinator)
    assert client.get(path, headers={"If-None-Match": first["ETag"]}).status_code == 200
    assert "private" in first["Cache-Control"] and "Authorization" in first["Vary"]


@pytest.mark.parametrize(
    ("path", "status", "where"),
    [
        ("runs/99999", 404, None),
        ("runs/x", 422, "number"),
        ("runs?limit=0", 422, "limit"),
        ("runs?state=gone", 422, "state"),
        ("runs?since=yesterday", 422, "since"),
        ("benches/none/history", 404, None),
        ("standardizations/99999999999999999999", 422, "number"),
    ],
)
def test_a_refusal_is_a_problem_detail(
    laboratory: Laboratory, path: str, status: int, where: str | None
) -> None:
    """RFC 9457, 3.1: type, title, status and detail; the media type is its section 3's."""
    response = reader(laboratory.coordinator).get(ROOT + path)
    assert response.status_code == status
    assert response["Content-Type"] == "application/problem+json"
    told = response.json()
    assert (told["type"], told["status"]) == ("about:blank", status)
    assert told["title"] and told["detail"].endswith(".")
    assert [fault["where"] for fault in told["faults"]] == ([where] if where else [])


def test_a_history_holds_every_approved_value(laboratory: Laboratory) -> None:
    standardization = approved(laboratory)
    told = reader(laboratory.assistant).get(f"{ROOT}benches/B1/history").json()
    (point,) = told["points"]
    assert point["standardization"] == standardization.pk == told["bench"]["standardization"]
    assert point["c_j_per_k"] == standardization.approved_c_j_per_k
    assert told["reasons"] or told["bench"]["standing"] == "too few points"

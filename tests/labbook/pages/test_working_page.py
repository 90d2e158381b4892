"""The working of a run as a page and as data: complete, repeatable, and silent while hidden."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from django.test import Client

from labbook.actions.readings import strike_readings
from labbook.actions.samples import reveal_sample
from labbook.models import Run

from ..conftest import Laboratory, signed_in
from .conftest import Afternoon
from .test_hidden_identity import TELLS


def page(client: Client, run: Run) -> str:
    response = client.get(f"/runs/{run.pk}/working/")
    assert response.status_code == 200
    return str(response.content.decode())


def data(client: Client, run: Run) -> dict[str, Any]:
    response = client.get(f"/runs/{run.pk}/working.json")
    assert response.status_code == 200 and response["Content-Type"] == "application/json"
    found: dict[str, Any] = response.json()
    return found


def steps(found: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {step["key"]: step for part in found["parts"] for step in part["steps"]}


def test_a_standardization_is_written_out_to_its_heat_capacity(
    laboratory: Laboratory, afternoon: Afternoon
) -> None:
    run = afternoon.standardization.runs.order_by("pk").first()
    assert run is not None and run.result is not None
    client = signed_in(laboratory.group)
    found = steps(data(client, run))
    assert list(found)[-1] == "C_nom"
    assert found["C_nom"]["result"] == run.result.c_j_per_k
    assert all(step["closes"] for step in found.values())
    shown = page(client, run)
    assert shown.count("<mtable>") == len(found) and "<script>" not in shown.split("<main")[1]
    assert "certificate of the lot" in shown and "Regnault" in shown


def test_the_numbers_of_the_data_give_its_results(afternoon: Afternoon) -> None:
    found = steps(data(afternoon.client("group"), afternoon.run))
    for step in found.values():
        source = re.sub(r"[\d.]+(?:E-?\d+)?", r"Decimal('\g<0>')", step["numbers"])
        shown = Decimal(step["shown"])
        result = Decimal(eval(source, {"Decimal": Decimal}))
        assert result.quantize(shown) == shown, step["key"]


def test_a_quoted_result_is_rounded_by_its_uncertainty(afternoon: Afternoon) -> None:
    found = steps(data(afternoon.client("group"), afternoon.run))
    rise = found["dT"]["quoted"]
    value, u = Decimal(rise["value"]), Decimal(rise["u"])
    assert value.as_tuple().exponent == u.as_tuple().exponent
    assert len(u.as_tuple().digits) <= 2
    assert "±" in page(afternoon.client("group"), afternoon.run)


def test_a_hidden_sample_has_no_molar_mass_formula_or_name(afternoon: Afternoon) -> None:
    for persona in ("group", "assistant", "coordinator"):
        client = afternoon.client(persona)
        shown, found = page(client, afternoon.run), data(client, afternoon.run)
        assert not TELLS.search(shown) and not TELLS.search(str(found))
        assert list(steps(found))[-1] == "dc_u"
        assert [part["title"] for part in found["parts"]][-1] == "Per gram"
        assert "standard state" not in shown and "Per mole" not in shown


def test_after_the_reveal_it_goes_on_to_the_literature(afternoon: Afternoon) -> None:
    reveal_sample(afternoon.lab.sample, by=afternoon.lab.coordinator)
    client = afternoon.client("group")
    found = steps(data(client, afternoon.run))
    assert list(found)[-1] == "delta" and found["M"]["shown"] == "128.174"
    shown = page(client, afternoon.run)
    assert "Molar mass of naphthalene" in shown and "Coleman &amp; Pilcher 1966" in shown


def test_a_result_without_numbers_says_why(laboratory: Laboratory, afternoon: Afternoon) -> None:
    run = afternoon.run
    strike_readings(run, 1, 78, "logger fell over", by=laboratory.group)
    run.refresh_from_db()
    assert run.result is not None and run.result.failure
    shown = page(afternoon.client("group"), run)
    assert "There is no result to write out" in shown
    assert data(afternoon.client("group"), run)["failure"] == run.result.failure


def test_a_run_without_readings_says_so(open_run: Run, laboratory: Laboratory) -> None:
    client = signed_in(laboratory.group)
    assert "too few readings" in page(client, open_run)
    assert data(client, open_run)["parts"] == []


def test_the_result_page_leads_to_it(afternoon: Afternoon) -> None:
    shown = afternoon.client("group").get(f"/runs/{afternoon.run.pk}/result/").content.decode()
    assert f"/runs/{afternoon.run.pk}/working/" in shown


def test_a_correction_after_the_result_is_written_out_anew(
    laboratory: Laboratory, afternoon: Afternoon
) -> None:
    run = afternoon.run
    before = steps(data(afternoon.client("group"), run))["T_i_mean"]
    strike_readings(run, 2, 2, "bumped", by=laboratory.group)
    run.refresh_from_db()
    after = steps(data(afternoon.client("group"), run))["T_i_mean"]
    assert before["numbers"] != after["numbers"] and after["closes"]

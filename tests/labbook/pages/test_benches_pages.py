"""All benches at a glance, one bench's history and its table, and recording a change."""

from __future__ import annotations

import csv
import io
from datetime import timedelta

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from labbook.actions.standardizations import withdraw
from labbook.models import Bench, BenchConfiguration, Result, Run

from ..conftest import Laboratory, approved, bench_with_configuration, head_changed
from ..histories import approved_values
from .conftest import Afternoon


def past(lab: Laboratory, bench: Bench, values: tuple[float, ...]) -> None:
    """Approved standardizations a day apart, the newest in force, and a run going on."""
    made = approved_values(lab, values, bench=bench, every=timedelta(days=1))
    Run.objects.create(
        bench=bench,
        configuration=made[0].configuration,
        group=made[0].group,
        method=lab.method,
        kind="practice",
        replicate=1,
        opened_at=timezone.now(),
    )


def runs_of(lab: Laboratory, count: int) -> None:
    for number in range(count):
        run = Run.objects.create(
            bench=lab.bench,
            configuration=lab.bench.configurations.get(),
            group=lab.group.group,
            method=lab.method,
            kind="practice",
            replicate=number + 1,
            opened_at=timezone.now(),
        )
        run.result = Result.objects.create(
            run=run, at=timezone.now(), by=lab.group, reason="made", version="0", inputs={}
        )
        run.save()


def queries(client: Client, path: str) -> int:
    with CaptureQueriesContext(
        connection,
    ) as caught:
        assert client.get(path).status_code == 200
    return len(caught)


def test_more_benches_take_no_more_queries(laboratory: Laboratory, coordinator: Client) -> None:
    values = (10_100.0, 10_110.0, 10_090.0, 10_105.0)
    for bench in (laboratory.bench, laboratory.other_bench):
        past(laboratory, bench, values)
    coordinator.get("/benches/")
    with_two = queries(coordinator, "/benches/")
    for code in ("B3", "B4", "B5", "B6"):
        past(laboratory, bench_with_configuration(code, laboratory.coordinator), values)
    assert queries(coordinator, "/benches/") == with_two


def test_more_runs_take_no_more_queries(laboratory: Laboratory, assistant: Client) -> None:
    runs_of(laboratory, 10)
    assistant.get("/runs/")
    with_ten = queries(assistant, "/runs/")
    runs_of(laboratory, 20)
    assert queries(assistant, "/runs/") == with_ten


def test_a_bench_shows_its_value_in_force_and_who_is_on_it(
    laboratory: Laboratory, assistant: Client
) -> None:
    past(laboratory, laboratory.bench, (10_100.0, 10_110.0, 10_090.0, 11_500.0))
    tile, other = assistant.get("/benches/").context["benches"]
    assert (tile["heat_capacity"], tile["standing"]) == (11_500.0, "watch")
    assert tile["busy"] == "Group H-B1: run open"
    assert (other["heat_capacity"], other["standing"]) == (None, "too few points")


def test_a_withdrawn_approval_stays_in_the_history(
    laboratory: Laboratory, assistant: Client
) -> None:
    withdraw(approved(laboratory), "wrong lot", by=laboratory.assistant)
    html = assistant.get("/benches/B1/").content.decode()
    assert "withdrawn" in html and "No approval is in force" in html


def test_a_change_of_parts_is_marked_with_what_differs(
    laboratory: Laboratory, coordinator: Client
) -> None:
    head_changed(laboratory)
    html = coordinator.get("/benches/B1/").content.decode()
    assert "new head" in html and "head head-B1 → head head-spare" in html


def test_the_history_as_csv_holds_the_figures_of_the_page(afternoon: Afternoon) -> None:
    response = afternoon.client("coordinator").get("/benches/B1/history.csv")
    row = next(csv.DictReader(io.StringIO(response.content.decode())))
    found = afternoon.standardization
    assert float(row["c_j_per_k"]) == found.approved_c_j_per_k
    assert float(row["half_width_95_j_per_k"]) == found.approved_half_width_j_per_k
    assert (row["runs"], row["state"], row["term"]) == ("3", "approved", "autumn")
    assert "attachment" in response["Content-Disposition"]


def test_no_cell_of_the_csv_runs_in_a_spreadsheet(afternoon: Afternoon) -> None:
    group, term = afternoon.lab.group.group, afternoon.lab.term
    assert group is not None
    for code in ("=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1"):
        group.code, term.name = code, f"{code} autumn"
        group.save()
        term.save()
        text = afternoon.client("coordinator").get("/benches/B1/history.csv").content.decode()
        row = next(csv.DictReader(io.StringIO(text, newline="")))
        assert row["group"] == f"'{code}" and row["term"].startswith("'")


def change_form(client: Client, **changes: str) -> dict[str, str]:
    form = client.get("/benches/B1/change/").context["form"]
    return {name: str(form[name].value()) for name in form.fields} | changes


def test_recording_a_change_ends_the_approval(afternoon: Afternoon) -> None:
    client = afternoon.client("coordinator")
    now = f"{timezone.localtime():%Y-%m-%dT%H:%M}"
    sent = change_form(client, since=now, reason="new bucket", nominal_water_g="1990")
    assert client.post("/benches/B1/change/", sent).status_code == 302
    afternoon.standardization.refresh_from_db()
    assert afternoon.standardization.state == "lapsed"
    assert afternoon.lab.bench.configurations.count() == 2


def test_a_refused_change_keeps_what_was_typed(coordinator: Client) -> None:
    tomorrow = f"{timezone.localtime() + timedelta(days=1):%Y-%m-%dT%H:%M}"
    sent = change_form(coordinator, since=tomorrow, reason="spare <head>", bomb_volume_ml="big")
    response = coordinator.post("/benches/B1/change/", sent)
    html = response.content.decode()
    assert response.status_code == 422
    assert "recorded once it has happened" in html and 'value="big"' in html
    assert "spare &lt;head&gt;" in html
    assert BenchConfiguration.objects.filter(bench__code="B1").count() == 1


def test_a_change_dated_before_the_last_is_given_back(coordinator: Client) -> None:
    sent = change_form(coordinator, since="2001-01-01T10:00", reason="found in a notebook")
    response = coordinator.post("/benches/B1/change/", sent)
    html = response.content.decode()
    assert response.status_code == 409
    assert "must be dated after it" in html and "found in a notebook" in html

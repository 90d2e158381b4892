"""The page of one bench over the years, its tables, all benches side by side, and the desk."""

from __future__ import annotations

import csv
import io
import json
import re
from datetime import timedelta
from itertools import pairwise
from typing import Any

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from labbook.actions.history import exclude_point, propose_break
from labbook.actions.standardizations import approve
from labbook.lookups.standardizations import summary_of
from labbook.models import Exclusion, PhaseBreak, Standardization, Term

from ..conftest import Laboratory, bench_with_configuration, put_forward
from ..histories import SOUND, WEEK, approved_values, with_runs
from .conftest import HTMX

PAGE = "/benches/B1/"
TABLE = f"{PAGE}table/"


def figure(html: str, name: str) -> dict[str, Any]:
    found = re.search(rf'<script id="{name}-data" type="application/json">(.*?)</script>', html)
    assert found, name
    return json.loads(found[1])


def trace(html: str, name: str, chart: str = "history") -> dict[str, Any]:
    return next(t for t in figure(html, chart)["data"] if t.get("name") == name)


def html_of(client: Client, path: str = PAGE, **sent: Any) -> str:
    return client.get(path, sent).content.decode()


def test_a_point_tells_its_runs_and_their_heat_capacities(
    laboratory: Laboratory, assistant: Client
) -> None:
    made = approved_values(laboratory, SOUND)[-1]
    with_runs(made, (10_080.0, 10_092.0))
    words = trace(html_of(assistant), "in force")["text"][0]
    assert "group H-B1" in words and "run 1 10\u202f080, run 2 10\u202f092" in words
    assert words.endswith("mean of 3 runs, 10\u202f086 J/K")


def test_the_band_runs_on_to_today_and_breaks_off_at_a_new_phase(
    laboratory: Laboratory, assistant: Client
) -> None:
    approved_values(laboratory, SOUND, newest=timezone.now() - 3 * WEEK)
    band = trace(html_of(assistant), "where a value was expected")
    assert band["x"][-1].startswith(f"{timezone.now():%Y-%m-%d}")
    cut_at = timezone.now() - 2 * WEEK
    propose_break(laboratory.bench, cut_at, "parts", "new head", by=laboratory.coordinator)
    approved_values(laboratory, SOUND[:1], newest=timezone.now() - WEEK)
    html = html_of(assistant)
    first = trace(html, "where a value was expected")
    assert first["x"][-1] < f"{cut_at:%Y-%m-%d}"
    assert "parts changed" in json.dumps(figure(html, "history")["layout"]["shapes"])


def test_what_is_left_out_is_drawn_and_listed_with_its_cause(
    laboratory: Laboratory, assistant: Client
) -> None:
    made = approved_values(laboratory, [*SOUND, 10_900.0])
    exclude_point(made[-1], "tare was wrong", by=laboratory.coordinator)
    html = html_of(assistant)
    marks = trace(html, "set aside")
    assert marks["marker"]["symbol"] == "square-open"
    assert "left out: tare was wrong" in marks["text"][0] and "10\u202f900" in marks["text"][0]
    assert 'hx-get="/benches/B1/table/"' in html
    assert "left out: tare was wrong" in html_of(assistant, TABLE).split("<tbody>")[1]


def test_the_figures_of_a_chart_are_a_table_in_the_same_range(
    laboratory: Laboratory, assistant: Client
) -> None:
    for made in approved_values(laboratory, SOUND):
        with_runs(made, (10_080.0, 10_090.0), noise_k=0.001)
    begins = f"{timezone.localdate() - timedelta(days=15)}"
    for path, name, runs in ((TABLE, "history", 1), (f"{PAGE}wear/table/", "signs", 2)):
        html = html_of(assistant, path)
        assert html.split("<tbody>")[1].count("<tr") == 8 * runs and "<html" in html
        assert html_of(assistant, path, begins=begins).split("<tbody>")[1].count("<tr") == 3 * runs
        part = assistant.get(path, headers=HTMX).content.decode()
        assert f'id="{name}-caption"' in part and "<html" not in part


def test_a_range_by_dates_by_term_and_everything(laboratory: Laboratory, assistant: Client) -> None:
    def count(**sent: Any) -> int:
        return len(assistant.get(PAGE, sent).context["judged"])

    approved_values(laboratory, SOUND)
    ancient = timezone.now() - timedelta(days=3000)
    approved_values(laboratory, SOUND[:2], newest=ancient)
    today = timezone.localdate()
    term = Term.objects.create(
        name="spring", starts=today - timedelta(days=11), ends=today, method=laboratory.method
    )
    assert count() == 8
    assert count(begins=f"{today - timedelta(days=15)}") == 3
    assert count(ends=f"{today - timedelta(days=15)}") == 5
    assert count(term=term.pk) == 2
    assert count(term="all") == 10


def test_a_wrong_range_is_said_and_the_latest_years_shown(
    laboratory: Laboratory, assistant: Client
) -> None:
    approved_values(laboratory, SOUND)
    response = assistant.get(PAGE, {"begins": "2026-03-01", "ends": "2026-02-01"})
    assert response.status_code == 422
    assert "is before the beginning" in response.content.decode()
    assert len(response.context["judged"]) == len(SOUND)
    assert assistant.get(PAGE, {"begins": "soon"}).status_code == 422


def test_htmx_is_given_the_part_that_changes(laboratory: Laboratory, assistant: Client) -> None:
    approved_values(laboratory, SOUND)
    for path in (PAGE, "/side-by-side/"):
        html = assistant.get(path, headers=HTMX).content.decode()
        assert 'id="shown"' in html and "<html" not in html and "Bench log" not in html


def test_textbook_charts_are_off_until_switched_on(
    laboratory: Laboratory, assistant: Client
) -> None:
    approved_values(laboratory, [*SOUND, *SOUND])
    html = html_of(assistant)
    assert 'id="textbook-' not in html
    # 0.16 within the next 8 points at 8 baseline points: the project's own table of rates.
    assert re.search(r"Individuals and moving range:.{0,120}16", html, re.S)
    html = html_of(assistant, charts=["individuals", "ewma", "cusum", "own-ewma"])
    for key in ("individuals", "moving-range", "ewma", "cusum"):
        assert f'id="textbook-{key}"' in html
    assert trace(html, "weighted mean (EWMA)")
    levels = [s["y0"] for s in figure(html, "textbook-individuals")["layout"]["shapes"]]
    moving = sum(abs(b - a) for a, b in pairwise(SOUND)) / 7
    mean = sum(SOUND) / 8
    # NIST/SEMATECH e-Handbook 6.3.2.2: mean ± 3 mean moving ranges / 1.128.
    assert levels == [mean - 3 * moving / 1.128, mean, mean + 3 * moving / 1.128]


def test_signs_of_wear_stand_on_the_time_axis_of_the_history(
    laboratory: Laboratory, assistant: Client
) -> None:
    for made in approved_values(laboratory, SOUND):
        with_runs(
            made, (10_080.0, 10_090.0), noise_k=0.001, fore_drift_k_per_s=1e-5,
            after_drift_k_per_s=1e-5, time_to_95_s=180.0,
        )  # fmt: skip
    html = html_of(assistant)
    assert 'hx-get="/benches/B1/wear/"' in html
    along = figure(html, "history")["layout"]["xaxis"]["range"]
    html = html_of(assistant, f"{PAGE}wear/")
    charts = ("fore-drift-mk-per-min", "after-drift-mk-per-min", "time-to-95", "noise-mk")
    for chart in charts:
        found = figure(html, f"wear-{chart}")
        assert len(found["data"][0]["x"]) == 16 and found["layout"]["xaxis"]["range"] == along
    assert len(figure(html, "wear-scatter")["data"][0]["x"]) == 8


def test_a_proposed_phase_is_asked_about_and_can_be_confirmed(
    laboratory: Laboratory, coordinator: Client, assistant: Client
) -> None:
    approved_values(laboratory, SOUND)
    at = timezone.now() - 2.5 * WEEK
    cut = propose_break(laboratory.bench, at, "parts", "new head", by=laboratory.coordinator)
    assert "A new phase is proposed" in html_of(assistant)
    assert "A new phase begins here" not in html_of(assistant)
    html = html_of(coordinator)
    assert "A new phase begins here" in html and re.search(r"C changed by.{0,200}%", html, re.S)
    coordinator.post(f"/breaks/{cut.pk}/", {"state": "confirmed"})
    assert PhaseBreak.objects.get().state == "confirmed"
    assert "Confirmed by coordinator" in html_of(assistant)


def test_limits_are_frozen_and_points_left_out_on_their_pages(
    laboratory: Laboratory, coordinator: Client
) -> None:
    made = approved_values(laboratory, SOUND)[0]
    coordinator.post("/benches/B1/freeze/", {"reason": "term begins"})
    assert "term begins" in html_of(coordinator)
    page, leave_out = f"/standardizations/{made.pk}/", f"/standardizations/{made.pk}/leave-out/"
    assert "Leave it out" in html_of(coordinator, page)
    coordinator.post(leave_out, {"reason": "soot"})
    assert "Left out of the statistics by coordinator" in html_of(coordinator, page)
    coordinator.post(leave_out, {"reason": "no soot"})
    assert Exclusion.objects.get().ended_for == "no soot"


def test_the_csv_holds_every_value_with_its_limits_and_runs(
    laboratory: Laboratory, assistant: Client
) -> None:
    approved_values(laboratory, SOUND[:2], newest=timezone.now() - timedelta(days=3000))
    made = approved_values(laboratory, SOUND)
    runs = with_runs(made[-1], (10_080.5, 10_092.0), noise_k=0.001)
    rows = list(csv.DictReader(io.StringIO(html_of(assistant, f"{PAGE}history.csv"))))
    assert [float(row["c_j_per_k"]) for row in rows] == [*SOUND[:2], *SOUND]
    assert rows[-1]["runs_c_j_per_k"] == "10080.5 10092.0" and rows[-1]["phase"] == "1"
    assert float(rows[-1]["lower_j_per_k"]) < 10_086 < float(rows[-1]["upper_j_per_k"])
    wear = list(csv.DictReader(io.StringIO(html_of(assistant, f"{PAGE}wear.csv"))))
    assert [row["run"] for row in wear] == [str(run.pk) for run in runs]
    assert wear[0]["noise_k"] == "0.001"


def test_benches_side_by_side_are_in_per_cent_of_their_first_baseline(
    laboratory: Laboratory, assistant: Client
) -> None:
    approved_values(laboratory, [*SOUND, 1.01 * sum(SOUND) / 8])
    approved_values(laboratory, [2 * v for v in SOUND], bench=laboratory.other_bench)
    response = assistant.get("/side-by-side/")
    first, second = response.context["benches"]
    assert round(first["shares"][-1]["percent"], 6) == 1.0
    assert round(sum(share["percent"] for share in second["shares"]), 6) == 0.0
    reaches = {
        tuple(figure(response.content.decode(), f"across-{code}")["layout"]["yaxis"]["range"])
        for code in ("B1", "B2")
    }
    assert len(reaches) == 1
    assert "Side by side over the years" in html_of(assistant, "/benches/")


def test_more_benches_and_points_take_no_more_queries(
    laboratory: Laboratory, coordinator: Client
) -> None:
    def queries() -> list[int]:
        counts = []
        for path in ("/benches/", PAGE, TABLE, f"{PAGE}wear/", "/side-by-side/"):
            with CaptureQueriesContext(connection) as caught:
                assert coordinator.get(path).status_code == 200
            counts.append(len(caught))
        return counts

    for bench in (laboratory.bench, laboratory.other_bench):
        with_runs(approved_values(laboratory, SOUND, bench=bench)[-1], (10_080.0,))
    queries()
    few = queries()
    for code in ("B3", "B4", "B5", "B6"):
        bench = bench_with_configuration(code, laboratory.coordinator)
        approved_values(laboratory, SOUND, bench=bench)
    earlier = timezone.now() - 10 * WEEK
    for made in approved_values(laboratory, SOUND, newest=earlier):
        with_runs(made, (10_080.0,))
    assert queries() == few


def outside(lab: Laboratory) -> Standardization:
    """A set put forward whose mean lies 2 % above the bench's past."""
    found = put_forward(lab)
    mean = summary_of(found).replicates.mean
    values = [v - 10_100 + mean / 1.02 for v in SOUND]
    approved_values(lab, values, newest=timezone.now() - timedelta(days=3))
    return found


def test_while_deciding_the_value_stands_beside_the_band_in_words_and_drawn(
    laboratory: Laboratory, assistant: Client, group: Client
) -> None:
    page = f"/standardizations/{outside(laboratory).pk}/"
    html = html_of(assistant, page)
    assert "2.0 % above this bench" in html and "Reason for approving outside" in html
    assert "the value to be decided on" in trace(html, "put forward", "beside")["text"][0]
    assert 'id="beside' not in html_of(group, page)


def test_the_desk_lists_what_was_approved_outside_with_who_and_why(
    laboratory: Laboratory, assistant: Client, coordinator: Client
) -> None:
    found = outside(laboratory)
    assert "Approved outside their history" not in html_of(coordinator, "/review/")
    seen = summary_of(found).seen
    approve(found, by=laboratory.assistant, seen=seen, reason="masses checked twice")
    html = html_of(coordinator, "/review/")
    assert "Approved outside their history" in html
    assert "ta: “masses checked twice”" in html
    of_the_bench = html_of(coordinator, f"/benches/{found.bench.code}/")
    assert "Approved outside this history; the reason stands with it" in of_the_bench

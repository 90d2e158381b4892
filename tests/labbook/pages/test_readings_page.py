"""The readings page: striking out, the thermogram and its movable bounds."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from labbook.lookups.readings import readings_of
from labbook.lookups.sheets import Sheet
from labbook.models import Result, Run

from ..conftest import (
    Laboratory,
    completed,
    curve,
    fired,
    hand_in,
    put_forward,
)
from .conftest import HTMX


def typed(run: Run) -> str:
    return f"/runs/{run.pk}/readings/typed/"


def bounds(run: Run) -> str:
    return f"/runs/{run.pk}/bounds/"


def test_struck_out_readings_stay_on_the_page(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    completed(open_run, laboratory)
    path = f"/runs/{open_run.pk}/readings/"
    sent = {"first": "3", "last": "4", "reason": "thermometer <bumped>"}
    assert group.post(f"{path}strike/", sent).status_code == 302
    html = group.get(path).content.decode()
    assert html.count("thermometer &lt;bumped&gt;") == 2 and "79 in use" in html


@pytest.mark.parametrize("number", ["", "²", "abc", "-1", "0", "99999", "9" * 5000, "1.5", "\0"])
def test_striking_what_is_no_reading_is_refused(group: Client, open_run: Run, number: str) -> None:
    group.post(typed(open_run), {"time": "0", "temperature": "23.1"})
    path = f"/runs/{open_run.pk}/readings/strike/"
    assert group.post(path, {"first": number, "reason": "slip"}).status_code == 409
    assert group.post(path, {"first": "1", "last": number or "9", "reason": "x"}).status_code == 409
    assert not open_run.strikes.exists()


def test_moving_a_bound_redraws_and_reduces(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    completed(open_run, laboratory)
    before = Result.objects.count()
    response = group.post(bounds(open_run), {"settled_at_s": "780"}, headers=HTMX)
    html = response.content.decode()
    assert response.status_code == 200 and "<html" not in html and 'id="curve"' in html
    assert 'value="780"' in html
    run = Run.objects.get(pk=open_run.pk)
    assert run.result is not None and Result.objects.count() == before + 1
    assert run.result.inputs["settled_at_s"] == 780
    assert run.entries.get(field="settled_at_s").reason == "bound of a period moved"


@pytest.mark.parametrize("headers", [{}, HTMX])
def test_a_refused_bound_stays_in_its_field(
    laboratory: Laboratory, group: Client, open_run: Run, headers: dict[str, str]
) -> None:
    completed(open_run, laboratory)
    sent = {"fore_from_s": "15", "settled_at_s": "late", "after_until_s": "5:75"}
    response = group.post(bounds(open_run), sent, headers=headers)
    html = response.content.decode()
    assert response.status_code == 422
    assert re.search(r'name="settled_at_s" value="late"', html)
    assert re.search(r'name="after_until_s" value="5:75"', html)
    sheet = Sheet(open_run)
    assert (sheet.text("fore_from_s"), sheet.text("settled_at_s")) == ("15", "")


def test_bounds_of_a_set_put_forward_do_not_move(laboratory: Laboratory, group: Client) -> None:
    run = put_forward(laboratory).runs.get(replicate=1)
    response = group.post(bounds(run), {"settled_at_s": "780"}, headers=HTMX)
    assert response.status_code == 422 and "is put forward" in response.content.decode()


@pytest.mark.parametrize(
    "moved",
    [
        {"fired_at_s": "9000"},
        {"fired_at_s": "-9000"},
        {"fore_from_s": "9000"},
        {"settled_at_s": "100"},
        {"settled_at_s": "99999999999999999999999"},
        {"after_until_s": "-1"},
        {"after_until_s": "301"},
        {"settled_at_s": "1200"},
        {"fore_from_s": "300", "fired_at_s": "300"},
    ],
)
def test_bounds_that_leave_nothing_end_in_words(
    laboratory: Laboratory, group: Client, open_run: Run, moved: dict[str, str]
) -> None:
    completed(open_run, laboratory)
    sent = moved | {"reason": "seen wrong"}
    assert group.post(bounds(open_run), sent).status_code == 302
    for page in ("", "readings/", "result/"):
        assert group.get(f"/runs/{open_run.pk}/{page}").status_code == 200
    run = Run.objects.get(pk=open_run.pk)
    assert run.result is not None
    said = [run.result.failure, *(run.result.outputs.get("periods", {}).get("why", ()))]
    said += [note["sentence"] for note in run.result.outputs.get("notes", ())]
    shown = group.get(f"/runs/{open_run.pk}/result/").content.decode()
    assert run.result.c_j_per_k is not None or any(said)
    assert not run.result.failure or run.result.failure in shown
    assert readings_of(run).kept_count == 81


# Readings as a broken afternoon leaves them: what is drawn and computed must not fall over.
AWKWARD = {
    "all at one moment": [("0", f"2{n}") for n in range(6)],
    "never moving": [(str(15 * n), "20") for n in range(12)],
    "moving by less than a thermometer shows": [(str(15 * n), f"20.{n:09}") for n in range(12)],
    "falling": [(str(15 * n), str(30 - n / 10)) for n in range(12)],
    "one step at the very end": [(str(15 * n), "20" if n < 11 else "23") for n in range(12)],
    "years apart": [(f"{n}000000000", f"2{n % 10}") for n in range(6)],
    "two by two": [(str(n // 2 * 15), "20" if n < 10 else "22.5") for n in range(24)],
    "before zero": [(str(15 * n - 900), "20" if n < 10 else "22.5") for n in range(30)],
}


@pytest.mark.parametrize("rows", AWKWARD.values(), ids=AWKWARD)
@pytest.mark.parametrize("moment", ["", "30"])
def test_awkward_readings_are_kept_drawn_and_talked_about(
    laboratory: Laboratory, group: Client, open_run: Run, rows: list[tuple[str, str]], moment: str
) -> None:
    fired(open_run, laboratory)
    group.post(f"/runs/{open_run.pk}/figures/fired_at_s/", {"fired_at_s": moment})
    content = "\n".join(["time (s),temperature (°C)", *(",".join(row) for row in rows), ""])
    for time, temperature in rows:
        assert (
            group.post(
                typed(open_run), {"time": time, "temperature": temperature, "beside": "on"}
            ).status_code
            == 302
        )
    for field, text in (("fuse_left", "2.0"), ("soot", "none")):
        group.post(f"/runs/{open_run.pk}/figures/{field}/", {field: text})
    # Either it gives a result, or completing is refused with the reason; never a fault.
    assert group.post(f"/runs/{open_run.pk}/complete/").status_code in (302, 409), content
    for page in ("", "readings/", "result/"):
        assert group.get(f"/runs/{open_run.pk}/{page}").status_code == 200
    assert readings_of(open_run).kept_count == len(rows)


def test_a_curve_without_an_after_period_is_shown_with_its_reason(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    head, *rows = curve().decode().split()
    fired(open_run, laboratory)
    hand_in(open_run, "\n".join([head, *rows[:26], ""]).encode(), laboratory.group)
    response = group.get(f"/runs/{open_run.pk}/result/")
    assert response.status_code == 200 and "No after period" in response.content.decode()


def test_the_firing_of_a_complete_run_moves_only_with_a_reason(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    completed(open_run, laboratory)
    response = group.post(bounds(open_run), {"fired_at_s": "310"}, headers=HTMX)
    assert response.status_code == 422
    assert "Say why" in response.content.decode()
    assert group.post(bounds(open_run), {"settled_at_s": "720"}).status_code == 302

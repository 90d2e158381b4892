"""The hand figures of a run: entered as typed, made to stand, and set beside ours after that."""

from __future__ import annotations

import pytest
from django.test import Client

from labbook.actions.runs import open_standardization_run
from labbook.models import HandFigure, Run

from ..conftest import Laboratory, completed, put_forward, signed_in
from .conftest import HTMX, Afternoon

FIGURES = {
    "fore_drift": ("4,80", "mK/min"),
    "after_drift": ("−0.10", "mK/min"),
    "crossing": ("5:42", "s"),
    "rise": ("2.500", "K"),
    "capacity": ("10.50", "kJ/K"),
}


def enter(client: Client, run: Run, **changes: tuple[str, str]) -> None:
    for key, (text, unit) in (FIGURES | changes).items():
        sent = {key: text, f"unit_{key}": unit}
        response = client.post(f"/runs/{run.pk}/hand-figures/{key}/", sent, headers=HTMX)
        assert response.status_code == 200, response.content.decode()


@pytest.fixture
def run(laboratory: Laboratory) -> Run:
    """A completed standardization run of a course that has the work done by hand first."""
    laboratory.term.ours_unlock = "hand figures"
    laboratory.term.save()
    found = put_forward(laboratory).runs.first()
    assert found is not None
    return found


def page(client: Client, run: Run) -> str:
    return str(client.get(f"/runs/{run.pk}/hand-figures/").content.decode())


def stand(client: Client, run: Run) -> int:
    return int(client.post(f"/runs/{run.pk}/hand-figures/stand/").status_code)


def test_a_figure_is_kept_as_typed_and_its_correction_strikes_it_out(
    run: Run, group: Client
) -> None:
    enter(group, run)
    enter(group, run, rise=("2.510", "K"))
    texts = list(HandFigure.objects.filter(run=run, key="rise").values_list("text", flat=True))
    assert texts == ["2.500", "2.510"]
    shown = page(group, run)
    assert "2.500 K" in shown.split("<del>")[1] and "Read as 342 s." in shown


def test_figures_stand_only_when_those_needed_are_there(run: Run, group: Client) -> None:
    assert stand(group, run) == 409 and "is still blank" in page(group, run)
    assert not run.hand_figures_saved.exists()
    enter(group, run)
    assert stand(group, run) == 302 and run.hand_figures_saved.count() == 1
    assert stand(group, run) == 302 and run.hand_figures_saved.count() == 1


def test_ours_show_beside_them_once_they_stand(run: Run, group: Client) -> None:
    enter(group, run)
    assert "Side by side" not in page(group, run)
    stand(group, run)
    shown = page(group, run)
    assert "Side by side" in shown and "10.50" in shown
    assert "Side by side" in group.get(f"/runs/{run.pk}/result/").content.decode()


def test_the_ta_has_the_three_columns_before(run: Run, group: Client, assistant: Client) -> None:
    enter(group, run, capacity=("2.51", "kJ/K"))
    shown = assistant.get(f"/runs/{run.pk}/result/").content.decode()
    assert "The first step that does not follow" in shown and "4.184" in shown


def test_a_correction_after_they_stood_is_marked_so(run: Run, group: Client) -> None:
    enter(group, run)
    stand(group, run)
    assert "after the figures stood" not in page(group, run)
    enter(group, run, rise=("2.600", "K"))
    assert "after the figures stood" in page(group, run)


def test_what_cannot_be_read_stays_in_its_field(run: Run, group: Client) -> None:
    sent = {"rise": "about 2", "unit_rise": "K"}
    answer = group.post(f"/runs/{run.pk}/hand-figures/rise/", sent, headers=HTMX)
    assert answer.status_code == 422 and "“about 2” is not a number" in answer.content.decode()
    assert 'name="rise"' not in answer.content.decode(), "the input stays as it was typed in"
    answer = group.post(f"/runs/{run.pk}/hand-figures/", sent)
    assert answer.status_code == 422 and 'value="about 2"' in answer.content.decode()
    sent = {"rise": "2.5", "unit_rise": "furlong"}
    assert group.post(f"/runs/{run.pk}/hand-figures/rise/", sent, headers=HTMX).status_code == 422
    assert not HandFigure.objects.exists()


def test_two_people_in_one_figure_are_asked(run: Run, group: Client) -> None:
    first = {"rise": "2.5", "unit_rise": "K", "seen_rise": "0"}
    group.post(f"/runs/{run.pk}/hand-figures/rise/", first, headers=HTMX)
    second = first | {"rise": "2.6"}
    answer = group.post(f"/runs/{run.pk}/hand-figures/rise/", second, headers=HTMX)
    shown = answer.content.decode()
    assert answer.status_code == 409 and "Which is right?" in shown and "Keep mine" in shown
    assert HandFigure.objects.get().text == "2.5"


def test_figures_per_mole_are_asked_only_after_the_reveal(
    afternoon: Afternoon, laboratory: Laboratory
) -> None:
    client, run = afternoon.client("group"), afternoon.run
    assert "Molar mass" not in page(client, run)
    sent = {"dch": "-5150", "unit_dch": "kJ/mol"}
    assert client.post(f"/runs/{run.pk}/hand-figures/dch/", sent).status_code == 409
    cited = {
        "value": "-5156.15", "u": "0.92", "source": "J. Chem. Soc.", "edition": "1966",
        "place": "Table 2",
    }  # fmt: skip
    assert client.post(f"/runs/{run.pk}/literature/", cited).status_code == 422
    afternoon.client("coordinator").post(f"/samples/{laboratory.sample.pk}/reveal/")
    assert "Molar mass" in page(client, run)
    for without in ("source", "edition", "place"):
        answer = client.post(f"/runs/{run.pk}/literature/", cited | {without: " "})
        assert answer.status_code == 422 and "whole citation" in answer.content.decode()
    assert client.post(f"/runs/{run.pk}/literature/", cited).status_code == 302
    value = run.literature.get()
    address = f"/runs/{run.pk}/literature/{value.pk}/"
    assert client.post(address).status_code == 403
    assert afternoon.client("assistant").post(address).status_code == 302
    shown = page(client, run)
    assert "J. Chem. Soc., 1966, Table 2" in shown and "Looked up by ta" in shown
    assert "Coleman &amp; Pilcher 1966" in shown


def test_the_figures_of_an_open_run_cannot_stand_yet(laboratory: Laboratory) -> None:
    opened = open_standardization_run(laboratory.bench, by=laboratory.group)
    client = signed_in(laboratory.group)
    enter(client, opened)
    assert stand(client, opened) == 409
    completed(opened, laboratory)
    assert stand(client, opened) == 302

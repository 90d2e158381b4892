"""A practice term is written across every page, print and export that is about it, and no other."""

from __future__ import annotations

import pytest
from django.test import Client

from labbook.actions import runs
from labbook.models import Run, Term

from ..conftest import Laboratory, completed, signed_in

MARK, WORDS = 'class="practice-mark"', "Practice term."


@pytest.fixture
def run(laboratory: Laboratory) -> Run:
    opened = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    return completed(opened, laboratory)


@pytest.fixture
def practice(laboratory: Laboratory) -> Term:
    laboratory.term.is_practice = True
    laboratory.term.save()
    return laboratory.term


def text(client: Client, path: str) -> str:
    response = client.get(path)
    assert response.status_code == 200, path
    return response.content.decode()


def paths_of(run: Run) -> dict[str, str]:
    one, section = f"/runs/{run.pk}/", run.group.section_id
    return {
        "sheet": one, "readings": f"{one}readings/", "result": f"{one}result/",
        "working": f"{one}working/", "data sheet": f"{one}paper/", "pdf": f"{one}paper.pdf",
        "plot paper": f"{one}plot-paper/", "plot paper pdf": f"{one}plot-paper.pdf",
        "standardization": f"/standardizations/{run.standardization_id}/",
        "section": f"/sections/{section}/", "end": f"/sections/{section}/end/",
    }  # fmt: skip


def test_every_page_and_print_about_it_is_marked(
    laboratory: Laboratory, run: Run, practice: Term, assistant: Client
) -> None:
    unmarked = [
        name
        for name, path in paths_of(run).items()
        if MARK not in (html := text(assistant, path)) or WORDS not in html
    ]
    assert unmarked == []


def test_every_page_of_its_groups_is_marked(
    laboratory: Laboratory, run: Run, practice: Term, group: Client
) -> None:
    for path in ("/afternoon/", "/paper/", "/paper/blank/", "/paper/blank.pdf"):
        assert MARK in text(group, path), path


def test_its_exports_say_so(
    laboratory: Laboratory, run: Run, practice: Term, assistant: Client
) -> None:
    assert assistant.get(f"/runs/{run.pk}/working.json").json()["is_practice_term"] is True
    feet = text(assistant, f"/runs/{run.pk}/paper.css")
    assert "Practice" in feet
    assert "practice term" in text(assistant, "/runs/")


def test_no_other_term_is_marked(laboratory: Laboratory, run: Run, assistant: Client) -> None:
    marked = [name for name, path in paths_of(run).items() if MARK in text(assistant, path)]
    assert marked == []
    assert assistant.get(f"/runs/{run.pk}/working.json").json()["is_practice_term"] is False
    assert "Practice" not in text(assistant, f"/runs/{run.pk}/paper.css")
    assert MARK not in text(signed_in(laboratory.group), "/afternoon/")

"""“Worth a look” and the term compared, as pages: neutral words, nobody named out of reach."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from labbook.actions import runs as run_actions
from labbook.models import Term

from ..conftest import Laboratory, curve, hand_in, signed_in
from .conftest import HTMX

# Words that accuse; none of them may stand on the page.
ACCUSING = re.compile(r"cheat|fraud|plagiar|suspic|suspect|guilt|dishonest|offen[cd]|\bscore of")


@pytest.fixture
def alike(laboratory: Laboratory) -> str:
    """Two groups with the same file; the address of the page."""
    for who in (laboratory.group, laboratory.stranger):
        assert who.group is not None and who.group.bench is not None
        run = run_actions.open_standardization_run(who.group.bench, by=who)
        hand_in(run, curve(), who)
    return f"/terms/{laboratory.term.pk}/alike/"


def test_nothing_is_looked_at_before_it_is_asked_for(coordinator: Client, alike: str) -> None:
    page = coordinator.get(alike)
    assert page.context["found"] is None
    assert "Look through the term" in page.content.decode()
    assert "one mention in 10 terms" in page.content.decode()


def test_what_is_alike_is_told_with_ordinary_reasons(coordinator: Client, alike: str) -> None:
    page = coordinator.get(alike, {"look": "1"})
    body = page.content.decode()
    assert [one.heading for one in page.context["mentions"]] == ["The same file", "Readings alike"]
    assert body.count("It may be:") == 2 and "group M1" in body and "group F1" in body
    assert not ACCUSING.search(body.lower())
    assert page["Cache-Control"].find("no-store") >= 0


def test_htmx_gets_the_part_alone(coordinator: Client, alike: str) -> None:
    body = coordinator.get(alike, {"look": "1"}, headers=HTMX).content.decode()
    assert body.lstrip().startswith('<div class="stack" id="found"') and "<html" not in body


def test_a_ta_is_not_told_which_group_of_another_section(alike: str, assistant: Client) -> None:
    body = assistant.get(alike, {"look": "1"}).content.decode()
    assert "a run of a group of another section" in body and "group M1" in body
    assert "F1" not in body and "Friday" not in body


def test_an_honest_term_reads_as_one(coordinator: Client, laboratory: Laboratory) -> None:
    body = coordinator.get(f"/terms/{laboratory.term.pk}/alike/", {"look": "1"}).content.decode()
    assert "Nothing stands out" in body


def test_students_see_neither_page(laboratory: Laboratory, alike: str, group: Client) -> None:
    compared = f"/terms/{laboratory.term.pk}/compared/"
    assert [group.get(path).status_code for path in (alike, compared)] == [403, 403]


def test_a_ta_without_a_section_in_the_term_finds_no_page(laboratory: Laboratory) -> None:
    laboratory.group.group.section.assistants.clear()
    client = signed_in(laboratory.assistant)
    for page in ("alike", "compared"):
        assert client.get(f"/terms/{laboratory.term.pk}/{page}/").status_code == 404


def test_figures_of_few_groups_are_withheld_on_the_page(
    laboratory: Laboratory, coordinator: Client, alike: str
) -> None:
    body = coordinator.get(f"/terms/{laboratory.term.pk}/compared/").content.decode()
    assert "Withheld, for fewer than 5 groups" in body or "No values" in body
    assert ">M1<" not in body and "group M1" not in body
    with_earlier = coordinator.get(f"/terms/{laboratory.term.pk}/compared/", {"terms": "earlier"})
    assert with_earlier.context["with_earlier"] is True


def test_a_practice_term_is_not_compared(laboratory: Laboratory, coordinator: Client) -> None:
    Term.objects.filter(pk=laboratory.term.pk).update(is_practice=True)
    page = coordinator.get(f"/terms/{laboratory.term.pk}/compared/")
    assert page.context["rows"] == [] and "enters no comparison" in page.content.decode()

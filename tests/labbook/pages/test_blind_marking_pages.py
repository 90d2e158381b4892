"""Blind marking: what a marker does not meet, on no page, until every mark is given out."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.utils import timezone

from labbook.actions import runs
from labbook.actions.handing_in import hand_in
from labbook.actions.sheets import enter_figure
from labbook.lookups.blinding import blind_numbers
from labbook.models import Group, HandIn, MarkScheme, Run, Term

from ..conftest import Laboratory, completed
from ..marking import give, mark, scheme_of, section_of
from .test_marking_pages import TELLING, of, page, section_page


@pytest.fixture
def blind(laboratory: Laboratory) -> HandIn:
    """Handed in by a group that wrote its names, code, bench and vial all over its sheet."""
    scheme_of(laboratory.term, is_blind=True)
    laboratory.person.student_number = "q70013"
    laboratory.person.save()
    run = completed(
        runs.open_standardization_run(laboratory.bench, by=laboratory.group), laboratory
    )
    words = "M1 at B1: ada wrote it, Quill weighed, q70013"
    enter_figure(run, "remarks", words, reason="by Ada Quill", by=laboratory.group)
    return hand_in(laboratory.group.group, "m1 again", by=laboratory.group)


def test_a_blind_marker_meets_no_name_code_bench_or_vial(
    laboratory: Laboratory, blind: HandIn, assistant: Client
) -> None:
    number = blind_numbers(laboratory.term)[laboratory.group.group_id]
    run = Run.objects.get()
    enter_figure(run, "titre_ml", "8.4", reason="misread", by=laboratory.group)
    paths = (
        of(blind, "?since=1"),
        of(blind),
        of(blind, f"runs/{run.pk}/"),
        section_page(laboratory),
        of(blind, "spread/"),
    )
    for path in paths:
        html = page(assistant, path)
        told = TELLING.findall(re.sub(r"<input type=\"hidden\"[^>]*>", "", html))
        assert told == [], path
        assert f"Number {number}" in html and "/groups/" not in html, path
    assert "… at …: … wrote it, … weighed, …" in page(assistant, of(blind, f"runs/{run.pk}/"))


def test_no_page_that_names_a_group_leads_to_its_blind_marking(
    laboratory: Laboratory, blind: HandIn, assistant: Client
) -> None:
    for rest in ("", "1/"):
        html = page(assistant, f"/groups/{laboratory.group.group_id}/handing-in/{rest}")
        assert "/marking/" not in html
    Term.objects.update(mark_scheme=MarkScheme.objects.create(name="open"))
    for rest in ("", "1/"):
        html = page(assistant, f"/groups/{laboratory.group.group_id}/handing-in/{rest}")
        assert of(blind) in html


def test_names_show_once_marks_are_given_out(
    laboratory: Laboratory, blind: HandIn, assistant: Client
) -> None:
    mark(blind, laboratory.assistant, "Both")
    assert assistant.post(section_page(laboratory, "table/")).status_code == 409
    give(laboratory)
    html = page(assistant, section_page(laboratory))
    assert "Group M1" in html and "so the groups show" in html
    html = page(assistant, of(blind))
    assert "Group M1, version 1" in html and "/groups/" in html
    assert assistant.post(section_page(laboratory, "table/")).status_code == 200


# --- marked by several -------------------------------------------------------------------------


def test_a_section_stays_blind_while_one_of_its_groups_has_no_mark(
    laboratory: Laboratory, blind: HandIn, assistant: Client
) -> None:
    late = Group.objects.create(section=section_of(laboratory), code="M2")
    HandIn.objects.create(
        group=late, version=1, at=timezone.now(), by=laboratory.coordinator, record=b"",
        record_sha256="0" * 64,
    )  # fmt: skip
    mark(blind, laboratory.assistant, "Both")
    give(laboratory)
    html = page(assistant, section_page(laboratory))
    assert "Marked blind" in html and "Group M1" not in html and "M2" not in html

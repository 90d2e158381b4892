"""Pages to print: what stands on a data sheet, squared paper, labels and where they lead."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from labbook.actions import readings as reading_actions
from labbook.actions import runs
from labbook.actions.samples import reveal_sample
from labbook.actions.sheets import enter_figure
from labbook.exchange.paper import pdf
from labbook.lookups.fingerprints import fingerprint_of
from labbook.models import Bench, FiringCheck, Happening, NoteAnswer, Run

from ..conftest import (
    AFTER_FIRING,
    Laboratory,
    completed,
    curve,
    fill_in,
    hand_in,
    ready_to_fire,
    signed_in,
)
from ..needs import needs_pango
from .conftest import Afternoon


def page_of(client: Client, address: str) -> str:
    response = client.get(address)
    assert response.status_code == 200, address
    return re.sub(r"\s+", " ", response.content.decode())


@pytest.fixture
def run(laboratory: Laboratory) -> Run:
    opened = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    return completed(opened, laboratory)


def sheet_of(run: Run, laboratory: Laboratory) -> str:
    return page_of(signed_in(laboratory.group), f"/runs/{run.pk}/paper/")


def test_a_correction_is_struck_through_with_who_when_and_why(
    run: Run, laboratory: Laboratory
) -> None:
    kept = enter_figure(
        run, "charge_tare_g", "13.0010", by=laboratory.group, entered_by=laboratory.person,
        reason="digit misread <i>twice</i>",
    )  # fmt: skip
    sheet = sheet_of(run, laboratory)
    row = sheet[sheet.index("Crucible alone") : sheet.index("Pellet, if you noted it")]
    assert '<span class="as-typed">13.0010</span>' in row
    assert "<del>13.0000</del>" in row and "Ada Quill" in row
    assert "digit misread &lt;i&gt;twice&lt;/i&gt;" in row
    assert f"{kept.at:%H:%M}" in row


def test_every_figure_stands_with_its_unit_as_typed(run: Run, laboratory: Laboratory) -> None:
    sheet = sheet_of(run, laboratory)
    for words, typed, unit in (
        ("Crucible with pellet", "13.9876", "g"),
        ("Oxygen pressure", "25", "atm"),
        ("Fuse wire left, all pieces", "2.0", "cm"),
        ("Titre of the washings", "7.9", "mL"),
    ):
        row = sheet[sheet.index(words) :]
        row = row[: row.index("</tr>")]
        assert f">{typed}<" in row and f">{unit}<" in row, words
    assert "Charge, by difference" in sheet and "0.9876" in sheet


def test_what_was_ticked_happened_and_answered_is_on_the_sheet(
    run: Run, laboratory: Laboratory
) -> None:
    by, at = laboratory.group, run.opened_at
    FiringCheck.objects.create(
        run=run, item="The leads are on.", at=at, by=by, person=laboratory.person
    )
    Happening.objects.create(run=run, kind="lid", words="for a minute", at=at, by=by)
    NoteAnswer.objects.create(
        run=run,
        code="titre",
        sentence="No titre.",
        answer="as it is",
        words="lost it",
        at=at,
        by=by,
    )
    sheet = sheet_of(run, laboratory)
    assert "The leads are on." in sheet and "Ada Quill" in sheet
    assert "The lid or the jacket was opened: for a minute" in sheet
    assert "No titre." in sheet and "“lost it”" in sheet


def test_readings_stand_with_their_numbers_and_strikes(run: Run, laboratory: Laboratory) -> None:
    reading_actions.strike_readings(run, 6, 7, "lid open", by=laboratory.group)
    sheet = sheet_of(run, laboratory)
    assert "Readings: 81" in sheet
    assert "Readings 6 to 7 struck out by" in sheet and "lid open" in sheet
    rows = re.findall(r'<tr><th scope="row">(\d+)</th>(.*?)</tr>', sheet)
    numbers = [int(number) for number, cells in rows]
    assert numbers == list(range(1, 82, 5))
    assert [cells.count("<del>") for _, cells in rows][:3] == [0, 4, 0]


def test_the_hash_is_on_the_sheet_in_full_and_at_the_foot_of_each_page(
    run: Run, laboratory: Laboratory
) -> None:
    mark, client = fingerprint_of(run), signed_in(laboratory.group)
    sheet = sheet_of(run, laboratory)
    assert mark.spaced in sheet and f'href="/runs/{run.pk}/paper.css"' in sheet
    feet = client.get(f"/runs/{run.pk}/paper.css")
    assert feet["Content-Type"] == "text/css"
    assert mark.short.replace(" ", "\\000020 ") in feet.content.decode()


def test_the_result_is_summed_up_once_the_run_is_finished(run: Run, laboratory: Laboratory) -> None:
    assert "heat capacity" in sheet_of(run, laboratory)
    opened = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    runs.mark_fired(ready_to_fire(opened, laboratory), "300", by=laboratory.group)
    fill_in(opened, AFTER_FIRING, laboratory.group)
    hand_in(opened, curve(), laboratory.group)
    opened.refresh_from_db()
    assert opened.result is not None and opened.state == Run.State.FIRED
    assert "heat capacity" not in sheet_of(opened, laboratory)


def test_a_hidden_sample_is_named_by_its_label_alone(afternoon: Afternoon) -> None:
    address = f"/runs/{afternoon.run.pk}/paper/"
    for persona in ("group", "coordinator"):
        sheet = page_of(afternoon.client(persona), address)
        assert "Unknown U-1" in sheet and "no values per mole" in sheet
        assert "naphthalene" not in sheet and "kilojoules per mole" not in sheet
    reveal_sample(afternoon.lab.sample, by=afternoon.lab.coordinator)
    assert "enthalpy of combustion" in page_of(afternoon.client("group"), address)


def test_the_paper_is_the_laboratorys_unless_another_is_chosen(
    run: Run, laboratory: Laboratory, settings: object
) -> None:
    client, address = signed_in(laboratory.group), f"/runs/{run.pk}/paper/"
    assert '<body class="a4 upright">' in page_of(client, address)
    assert '<body class="letter upright">' in page_of(client, f"{address}?paper=letter")
    assert '<body class="a4 upright">' in page_of(client, f"{address}?paper=napkin")
    settings.LABBOOK_PAPER = "letter"
    assert '<body class="letter upright">' in page_of(client, address)


@needs_pango
def test_the_pdf_is_made_of_the_page(
    run: Run, laboratory: Laboratory, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("labbook.views.paper.as_pdf", pdf.as_pdf)
    response = signed_in(laboratory.group).get(f"/runs/{run.pk}/paper.pdf?paper=letter")
    assert response["Content-Type"] == "application/pdf"
    assert f"run-{run.pk}-data-sheet-letter.pdf" in response["Content-Disposition"]
    assert response.content.startswith(b"%PDF-")


def test_without_its_libraries_the_pdf_leads_back_to_the_page(
    run: Run, laboratory: Laboratory, monkeypatch: pytest.MonkeyPatch
) -> None:
    def missing(page: str, styles: dict[str, str]) -> bytes:
        raise pdf.PdfUnavailable("This server cannot make PDF")

    monkeypatch.setattr("labbook.views.paper.as_pdf", missing)
    response = signed_in(laboratory.group).get(f"/runs/{run.pk}/paper.pdf?paper=letter")
    assert response.status_code == 503
    assert f'href="/runs/{run.pk}/paper/?paper=letter"' in response.content.decode()


def test_squared_paper_shows_readings_that_count_and_no_computed_value(
    run: Run, laboratory: Laboratory
) -> None:
    paper = page_of(signed_in(laboratory.group), f"/runs/{run.pk}/plot-paper/")
    assert "81 readings" in paper and 'class="readings"' in paper
    assert "J/K" not in paper and "rise" not in paper


def test_a_blank_sheet_is_the_groups_own(laboratory: Laboratory) -> None:
    sheet = page_of(signed_in(laboratory.group), "/paper/blank/?kind=unknown")
    assert "M1, Monday" in sheet and "Unknown, label" in sheet
    assert "Standard, lot" not in sheet, "an unknown has none"
    assert ">0:15<" in sheet and ">20:00<" in sheet, "the slots of the method"
    assert "clear of the top of the vessel" in sheet
    assert signed_in(laboratory.group).get("/paper/blank/?kind=wedding").status_code == 404


def test_staff_print_for_their_groups_or_for_nobody_yet(laboratory: Laboratory) -> None:
    own, strangers = laboratory.group.group, laboratory.stranger.group
    assert own is not None and strangers is not None
    client = signed_in(laboratory.assistant)
    assert "M1, Monday" in page_of(client, f"/paper/blank/?group={own.pk}")
    assert client.get(f"/paper/blank/?group={strangers.pk}").status_code == 404
    assert "Monday" not in page_of(client, "/paper/blank/")


def test_too_many_slots_leave_the_times_to_be_written(laboratory: Laboratory) -> None:
    laboratory.method.reading_interval_s = 1
    laboratory.method.save()
    sheet = page_of(signed_in(laboratory.group), "/paper/blank/")
    assert "every 1 s" in sheet and ">0:01<" not in sheet


def test_a_label_leads_each_to_their_page(laboratory: Laboratory) -> None:
    address = f"/at/{laboratory.bench.label.lower()}/"
    assert signed_in(laboratory.group).get(address)["Location"] == "/afternoon/"
    assert signed_in(laboratory.other_assistant).get(address)["Location"] == "/benches/B1/"
    signed_out = Client().get(address)["Location"]
    assert signed_out.startswith("/sign-in/") and address in signed_out
    refused = signed_in(laboratory.stranger).get(address)
    assert refused.status_code == 409
    assert "group F1 is booked on bench B2" in refused.content.decode()
    assert signed_in(laboratory.group).get("/at/ABCDEFGH/").status_code == 404


def test_labels_carry_their_address_in_code_and_in_letters(laboratory: Laboratory) -> None:
    page = page_of(signed_in(laboratory.assistant), "/paper/labels/")
    assert page.count('class="qr"') == Bench.objects.count() == 2
    for bench in Bench.objects.all():
        assert f"{bench.label[:4]} {bench.label[4:]}" in page
        assert f"http://testserver/at/{bench.label}/" in page

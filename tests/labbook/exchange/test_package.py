"""A package: made from the hand-in's record alone, the same bytes each time, nothing too early."""

from __future__ import annotations

import csv
import hashlib
import json
import zipfile
from io import BytesIO, StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from labbook.actions.handing_in import hand_in
from labbook.actions.readings import strike_readings
from labbook.actions.sheets import enter_figure
from labbook.exchange.package import contents
from labbook.exchange.package.delivery import delivery_of
from labbook.intake import preview
from labbook.lookups.file_firings import readings_in
from labbook.models import HandIn, Term
from reduction.__main__ import main

from ..conftest import Laboratory, completed, unknown
from ..needs import needs_pango

COMPUTED = ("working.html", "energy-balances.xlsx")


@pytest.fixture
def without_pdf(monkeypatch: pytest.MonkeyPatch) -> None:
    """The page in place of its PDF: quick, and it can be read."""
    monkeypatch.setattr(contents, "can_make_pdf", lambda: False)


@pytest.fixture
def handed_in(laboratory: Laboratory) -> HandIn:
    """A group's standardization and its unknown, which is still hidden."""
    run = completed(unknown(laboratory), laboratory, rise_k=2.31)
    enter_figure(run, "titre_ml", "8.4", reason="=misread", by=laboratory.group)
    strike_readings(run, 1, 3, "+a slip", by=laboratory.group)
    return hand_in(laboratory.group.group, by=laboratory.group)


def unzipped(content: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(BytesIO(content)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def files_for(handed_in: HandIn, lab: Laboratory | None = None) -> dict[str, bytes]:
    """For staff, or for the group of a laboratory."""
    account = None if lab is None else lab.group
    return unzipped(contents.package(delivery_of(handed_in, account)))


def all_text(files: dict[str, bytes]) -> str:
    inside = [c for f, b in files.items() if f.endswith("xlsx") for c in unzipped(b).values()]
    return b"\n".join([*files.values(), *inside]).decode(errors="replace")


@pytest.mark.usefixtures("without_pdf")
def test_the_same_hand_in_gives_the_same_bytes_with_checksums_that_hold(
    handed_in: HandIn, laboratory: Laboratory
) -> None:
    packed = contents.package(delivery_of(handed_in, None))
    run = handed_in.group.runs.get(kind="unknown")
    enter_figure(run, "titre_ml", "9.9", reason="changed afterwards", by=laboratory.group)
    assert contents.package(delivery_of(handed_in, None)) == packed
    files = unzipped(packed)
    listed = dict(line.split("  ")[::-1] for line in files.pop("SHA256SUMS").decode().splitlines())
    assert listed == {name: hashlib.sha256(b).hexdigest() for name, b in files.items()}
    assert listed["record.json"] == handed_in.record_sha256


@pytest.mark.usefixtures("without_pdf")
def test_a_run_file_reduces_to_the_very_same_result(
    handed_in: HandIn, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    files = files_for(handed_in)
    for run in handed_in.group.runs.all():
        path = tmp_path / "run-file.json"
        path.write_bytes(files[f"run-{run.pk}/run-file.json"])
        assert main(["run", "--json", str(path)]) == 0
        run.refresh_from_db()
        assert run.result is not None
        assert json.loads(capsys.readouterr().out) == run.result.outputs


@pytest.mark.usefixtures("without_pdf")
def test_its_readings_taken_in_as_a_logger_file_are_the_same(handed_in: HandIn) -> None:
    files, delivery = files_for(handed_in), delivery_of(handed_in, None)
    for run in delivery.runs:
        found = readings_in(preview(files[f"run-{run.number}/readings.csv"]))
        given = run.record["inputs"]["readings"]
        assert list(found.times_s) == given["time_s"]
        assert list(found.temperatures_c) == given["temperature_c"]


@pytest.mark.usefixtures("without_pdf")
def test_what_was_struck_out_is_shown_and_starts_no_formula(handed_in: HandIn) -> None:
    run = handed_in.group.runs.get(kind="unknown")
    files = files_for(handed_in)
    sheet = files[f"run-{run.pk}/data-sheet.html"].decode()
    assert "<del>7.9</del>" in sheet
    assert "struck out because: =misread" in sheet
    cells = [
        cell
        for name, content in files.items()
        if name.endswith(".csv")
        for row in csv.reader(StringIO(content.decode()))
        for cell in row
    ]
    assert {"'=misread", "'+a slip"} <= set(cells)
    assert not [cell for cell in cells if cell.startswith(("=", "@"))]


@pytest.mark.usefixtures("without_pdf")
def test_a_hidden_sample_is_in_no_file(handed_in: HandIn) -> None:
    text = all_text(files_for(handed_in))
    for betrays in ("naphthalene", "C10H8", "128.17", "5156.15", "Coleman"):
        assert betrays not in text


@pytest.mark.usefixtures("without_pdf")
def test_computed_values_wait_until_the_course_shows_them(
    handed_in: HandIn, laboratory: Laboratory
) -> None:
    run = handed_in.group.runs.get(kind="unknown")
    assert run.result is not None
    value, rise = (repr(found) for found in (run.result.du_j_per_g, run.result.rise_k))
    Term.objects.update(ours_unlock="never")
    files = files_for(handed_in, laboratory)
    assert not [name for name in files if name.endswith(COMPUTED)]
    assert value not in all_text(files)
    assert rise not in all_text(files)
    assert value in all_text(files_for(handed_in))
    Term.objects.update(ours_unlock="hand-in")
    unlocked = files_for(handed_in, laboratory)
    assert value in all_text(unlocked)
    assert [name for name in unlocked if name.endswith(COMPUTED)]


@needs_pango
def test_paper_and_pictures_are_the_same_bytes_too(handed_in: HandIn) -> None:
    made = contents.contents(delivery_of(handed_in, None))
    run = handed_in.group.runs.get(kind="unknown")
    for name, begins in (("data-sheet.pdf", b"%PDF"), ("thermogram.png", b"\x89PNG")):
        first = made[f"run-{run.pk}/{name}"]()
        assert first.startswith(begins)
        assert made[f"run-{run.pk}/{name}"]() == first


@pytest.mark.usefixtures("without_pdf")
def test_the_command_writes_it_and_says_what_is_not_there(
    handed_in: HandIn, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("package", "M1", "--to", str(tmp_path / "new"))
    digest, path = capsys.readouterr().out.strip().split("  ")
    assert hashlib.sha256(Path(path).read_bytes()).hexdigest() == digest
    for arguments, sentence in (
        (["M1", "--version", "7"], "no version 7"),
        (["F1"], "has handed in nothing"),
        (["Z9"], "There is no group"),
    ):
        with pytest.raises(CommandError, match=sentence):
            call_command("package", *arguments, "--to", str(tmp_path))

"""Evidence is written once: the code, the database and the chain each refuse or show a change."""

from __future__ import annotations

import json
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from labbook.actions import readings, runs, typed_readings
from labbook.guards import install_guards, missing_guards, remove_guards, without_guards
from labbook.lookups.chain import heads, not_since, verify_evidence
from labbook.models import Exclusion, ReadingBlock, Result, Run, SheetEntry
from labbook.models.evidence import Altered, Book, Link, digest_of

from .conftest import Laboratory, approved, completed


@pytest.fixture
def run(laboratory: Laboratory) -> Run:
    return completed(
        runs.open_standardization_run(laboratory.bench, by=laboratory.group), laboratory
    )


def changed_behind_the_record(sql: str, *values: Any) -> None:
    with without_guards(), connection.cursor() as cursor:
        cursor.execute(sql, values)


def only_break() -> tuple[str, str]:
    found = verify_evidence()
    assert len(found.breaks) == 1, found.breaks
    return found.breaks[0].where, found.breaks[0].sentence


def test_a_whole_record_verifies_link_by_link(run: Run) -> None:
    found = verify_evidence()
    written = [run.entries, run.blocks, run.results, run.decisions, run.files, run.checks]
    of_run = Link.objects.filter(book__name=f"run {run.pk}")
    assert found.is_whole
    assert of_run.count() == sum(rows.count() for rows in written)


@pytest.mark.parametrize("model", [SheetEntry, ReadingBlock, Result])
def test_the_code_changes_no_evidence(run: Run, model: type[Any]) -> None:
    row = model.objects.filter(run=run).first()
    with pytest.raises(Altered, match="a correction is a new entry"):
        row.save()


@pytest.mark.parametrize("table", ["sheetentry", "readingblock", "result", "decision", "link"])
@pytest.mark.parametrize(
    "statement", ["UPDATE labbook_{} SET id = id + 1", "DELETE FROM labbook_{}"]
)
def test_the_database_itself_refuses(run: Run, table: str, statement: str) -> None:
    with (
        pytest.raises(DatabaseError, match="append-only"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(statement.format(table))


def test_what_stays_open_is_filled_in_once(laboratory: Laboratory) -> None:
    left_out = Exclusion.objects.create(
        standardization=approved(laboratory),
        cause="tare was wrong",
        at=timezone.now(),
        by=laboratory.coordinator,
    )
    left_out.ended_at, left_out.ended_by = timezone.now(), laboratory.coordinator
    left_out.ended_for = "it was right"
    left_out.save(update_fields=Exclusion.LATER)
    assert verify_evidence().is_whole
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        left_out.save(update_fields=Exclusion.LATER)


def test_a_changed_figure_is_named(run: Run) -> None:
    entry = run.entries.get(field="charge_gross_g")
    changed_behind_the_record("UPDATE labbook_sheetentry SET text = '13.9' WHERE id = %s", entry.pk)
    where, sentence = only_break()
    assert where.startswith(f"run {run.pk}, link ")
    assert sentence == f"sheetentry {entry.pk} is not as it was written."


def test_a_removed_row_is_named(run: Run) -> None:
    entry = run.entries.get(field="titre_ml")
    changed_behind_the_record("DELETE FROM labbook_sheetentry WHERE id = %s", entry.pk)
    assert only_break()[1] == f"sheetentry {entry.pk} is gone."


def test_a_link_rewritten_with_its_row_does_not_follow(run: Run) -> None:
    entry = run.entries.get(field="titre_ml")
    changed_behind_the_record("UPDATE labbook_sheetentry SET text = '9.9' WHERE id = %s", entry.pk)
    entry.refresh_from_db()
    changed_behind_the_record(
        "UPDATE labbook_link SET digest = %s WHERE kind = 'sheetentry' AND record = %s",
        digest_of(entry),
        entry.pk,
    )
    assert only_break()[1] == "The link does not follow from the one before it."


def test_a_row_put_in_past_the_record_is_named(run: Run) -> None:
    entry = run.entries.get(field="titre_ml")
    entry.pk, entry.replaces, entry.field = None, None, "room_c"
    SheetEntry.objects.bulk_create([entry])
    assert "it has no link" in only_break()[1]


def test_an_end_cut_off_shows_in_its_head_and_against_heads_kept(run: Run) -> None:
    kept, book = heads(), Book.objects.get(name=f"run {run.pk}")
    before, last = book.links.order_by("number")[book.length - 2 : book.length]
    changed_behind_the_record("DELETE FROM labbook_link WHERE id = %s", last.pk)
    assert any("The book ends after" in one.sentence for one in verify_evidence().breaks)
    Book.objects.filter(pk=book.pk).update(length=before.number, head=before.hash)
    assert [one.where for one in not_since(kept)] == [book.name]


def test_missing_guards_are_named_and_put_back(laboratory: Laboratory) -> None:
    remove_guards()
    names = missing_guards()
    assert "labbook_sheetentry_stays" in names
    assert any("labbook_sheetentry_stays" in one.sentence for one in verify_evidence().breaks)
    install_guards()
    assert missing_guards() == []


def test_readings_folded_into_one_block_stay_as_they_were_written(laboratory: Laboratory) -> None:
    run = runs.open_standardization_run(laboratory.bench, by=laboratory.group)
    for time in range(5):
        typed_readings.add_typed_reading(run, f"{time}", "23.1", by=laboratory.group)
    readings.fold_blocks(run)
    assert run.blocks.get().count == 5
    assert ReadingBlock._base_manager.filter(run=run).count() == 6
    assert verify_evidence().is_whole


def test_the_command_says_what_it_found(run: Run, tmp_path: Path) -> None:
    out, kept = StringIO(), tmp_path / "heads.json"
    call_command("verify", json=True, keep_heads=kept, stdout=out)
    assert json.loads(out.getvalue())["whole"] is True
    call_command("verify", since=kept, stdout=StringIO())
    changed_behind_the_record("DELETE FROM labbook_sheetentry WHERE field = 'titre_ml'")
    out = StringIO()
    with pytest.raises(SystemExit) as left:
        call_command("verify", since=kept, stdout=out)
    assert left.value.code == 1 and "is gone." in out.getvalue()

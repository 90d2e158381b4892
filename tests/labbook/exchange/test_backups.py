"""Backups of a record in use: verified when made, refused when damaged, restored as they were."""

from __future__ import annotations

import errno
import hashlib
import json
import shutil
import sqlite3
import stat
import zipfile
from collections.abc import Iterator
from contextlib import closing
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection
from pytest_django import Settings

from labbook.actions import runs, sheets
from labbook.exchange.backups.making import Backup, make_backup
from labbook.exchange.backups.restoring import restore_backup
from labbook.guards import missing_guards, without_guards
from labbook.lookups.chain import verify_evidence
from labbook.models import Account, Run, SheetEntry, Upkeep
from labbook.problems import Refused

from ..conftest import Laboratory, set_up_laboratory
from ..scratch import postgresql_database

needs_programs = pytest.mark.skipif(
    connection.vendor == "postgresql" and shutil.which("pg_dump") is None,
    reason="PostgreSQL's client programs are not on this machine",
)
pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("databases_beside"),
    needs_programs,
]


@pytest.fixture
def lab(transactional_db: None) -> Laboratory:
    """A record that was committed: a copy made from outside sees nothing else."""
    return set_up_laboratory()


@pytest.fixture
def run(lab: Laboratory) -> Run:
    found = runs.open_standardization_run(lab.bench, by=lab.group)
    sheets.enter_figure(found, "charge_gross_g", "13.9876", by=lab.group)
    return found


@pytest.fixture
def data(tmp_path: Path, settings: Settings) -> Path:
    settings.DATA_DIR = tmp_path / "data"
    (settings.DATA_DIR / "archives").mkdir(parents=True)
    (settings.DATA_DIR / "archives" / "term-1-autumn.zip").write_bytes(b"an archive")
    return settings.DATA_DIR


@pytest.fixture
def backup(run: Run, data: Path, tmp_path: Path) -> Backup:
    return make_backup(tmp_path / "backups")


@pytest.fixture
def fresh(
    backup: Backup, tmp_path: Path, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Path]:
    """Another install, with nothing in it yet: its data folder."""
    settings.DATA_DIR = tmp_path / "fresh"
    settings.DATA_DIR.mkdir()
    connection.close()
    with monkeypatch.context() as patch:
        if connection.vendor == "sqlite":
            file = settings.DATA_DIR / "labbook.sqlite3"
            patch.setitem(connection.settings_dict, "NAME", str(file))
            yield settings.DATA_DIR
        else:
            with postgresql_database() as address:
                patch.setitem(connection.settings_dict, "NAME", address.rpartition("/")[2])
                yield settings.DATA_DIR
                connection.close()
        connection.close()


def changed(backup: Backup, to: Path, name: str, content: bytes | None) -> Path:
    """The backup with one member put in another's place, or left out."""
    with zipfile.ZipFile(backup.file) as old, zipfile.ZipFile(to, "w") as new:
        for member in old.namelist():
            if member != name:
                new.writestr(member, old.read(member))
        if content is not None:
            new.writestr(name, content)
    return to


def test_it_holds_the_record_and_the_archives_and_no_key(backup: Backup) -> None:
    with zipfile.ZipFile(backup.file) as archive:
        names = set(archive.namelist())
        manifest = json.loads(archive.read("manifest.json"))
    copy = "record.sqlite3" if connection.vendor == "sqlite" else "record.pgdump"
    assert names == {copy, "archives/term-1-autumn.zip", "manifest.json"}
    assert manifest["heads"] == verify_evidence().heads
    assert manifest["whole"] and manifest["tried"]
    assert manifest["tables"]["labbook_sheetentry"] == SheetEntry.objects.count() == 1
    assert stat.S_IMODE(backup.file.stat().st_mode) == 0o600
    assert [file.name for file in backup.file.parent.iterdir()] == [backup.file.name]


@pytest.mark.skipif(connection.vendor != "sqlite", reason="opens the copy as SQLite's own file")
def test_the_copy_is_sound_to_a_program_that_is_not_ours(backup: Backup, tmp_path: Path) -> None:
    with zipfile.ZipFile(backup.file) as archive:
        copy = archive.extract("record.sqlite3", tmp_path)
    with closing(sqlite3.connect(copy)) as opened:
        assert opened.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        texts = opened.execute("SELECT text FROM labbook_sheetentry").fetchall()
    assert texts == [("13.9876",)]


def test_it_is_restored_into_a_fresh_install(backup: Backup, fresh: Path) -> None:
    restored = restore_backup(backup.file)
    assert restored.found.is_whole and restored.found.heads == backup.manifest.heads
    assert SheetEntry.objects.get().text == "13.9876"
    assert missing_guards() == []
    assert (fresh / "archives" / "term-1-autumn.zip").read_bytes() == b"an archive"
    assert restored.aside == ""


def test_a_record_is_replaced_only_when_told_and_kept_beside(backup: Backup, fresh: Path) -> None:
    restore_backup(backup.file)
    Account.objects.filter(username="ta").update(name="renamed since")
    with pytest.raises(Refused, match="not empty, and nothing was changed"):
        restore_backup(backup.file)
    assert Account.objects.get(username="ta").name == "renamed since"
    restored = restore_backup(backup.file, instead=True)
    assert Account.objects.get(username="ta").name == "ta"
    assert "before" in restored.aside and missing_guards() == []
    # What was kept beside it is in no later backup.
    later = make_backup(fresh / "backups")
    assert later.manifest.tables.keys() == backup.manifest.tables.keys()


@pytest.mark.parametrize(
    ("harm", "said"),
    [
        (lambda whole: whole[: len(whole) // 2], "is damaged: File is not a zip file"),
        (lambda whole: whole[:200] + bytes(40) + whole[240:], "damaged|not as it was written"),
        (lambda whole: b"a poem, and no zip", "is damaged: File is not a zip file"),
        (lambda whole: b"", "is damaged: File is not a zip file"),
    ],
    ids=["cut short", "bytes lost", "another file", "empty"],
)
def test_a_damaged_file_is_refused_and_nothing_changes(
    backup: Backup, fresh: Path, harm: object, said: str
) -> None:
    assert callable(harm)
    bad = fresh / "bad.zip"
    bad.write_bytes(harm(backup.file.read_bytes()))
    with pytest.raises(CommandError, match=said) as refused:
        call_command("restore", bad)
    assert "Nothing was restored" in str(refused.value)
    assert connection.introspection.table_names() == []


def test_a_file_that_says_otherwise_than_its_manifest_is_refused(
    backup: Backup, fresh: Path
) -> None:
    no_manifest = changed(backup, fresh / "a.zip", "manifest.json", None)
    with pytest.raises(Refused, match="is no backup of a bench record"):
        restore_backup(no_manifest)
    added = changed(backup, fresh / "b.zip", "archives/../../evil.zip", b"x")
    with pytest.raises(Refused, match=r"evil\.zip is not as it was written"):
        restore_backup(added)
    with zipfile.ZipFile(backup.file) as archive:
        manifest = json.loads(archive.read("manifest.json"))
    for part, value, said in (
        ("form", 2, "has form 2; this version reads form 1"),
        ("heads", "0" * 64, "does not hold what its manifest says"),
        ("database", "oracle", "no copy of a database"),
    ):
        text = json.dumps(manifest | {part: value}).encode()
        with pytest.raises(Refused, match=said):
            restore_backup(changed(backup, fresh / f"{part}.zip", "manifest.json", text))
    assert connection.introspection.table_names() == []


@pytest.mark.skipif(connection.vendor != "sqlite", reason="alters the copy as SQLite's own file")
def test_a_copy_that_was_altered_is_refused_though_its_sums_are_right(
    backup: Backup, tmp_path: Path, fresh: Path
) -> None:
    """Whoever can rewrite the sums still cannot make the chain follow."""
    with zipfile.ZipFile(backup.file) as archive:
        manifest = json.loads(archive.read("manifest.json"))
        copy = Path(archive.extract("record.sqlite3", tmp_path))
        old = archive.read("archives/term-1-autumn.zip")
    with closing(sqlite3.connect(copy)) as opened:
        opened.execute("DROP TRIGGER labbook_sheetentry_keeps")
        opened.execute("UPDATE labbook_sheetentry SET text = '13.9'")
        opened.commit()
    manifest["files"]["record.sqlite3"] = hashlib.sha256(copy.read_bytes()).hexdigest()
    with zipfile.ZipFile(fresh / "altered.zip", "w") as altered:
        altered.write(copy, "record.sqlite3")
        altered.writestr("archives/term-1-autumn.zip", old)
        altered.writestr("manifest.json", json.dumps(manifest))
    with pytest.raises(Refused, match=r"sheetentry \d+ is not as it was written"):
        restore_backup(fresh / "altered.zip")


def test_the_command_notes_what_it_made_and_removes_the_old(
    run: Run, data: Path, tmp_path: Path
) -> None:
    to = tmp_path / "elsewhere"
    to.mkdir()
    old = to / "record-20200101T020000Z.zip"
    old.touch()
    out = StringIO()
    call_command("backup", to=to, keep_monthly=1, keep_weekly=1, keep_daily=1, stdout=out)
    noted = Upkeep.objects.get()
    assert noted.is_fine and noted.details["folder"] == str(to)
    assert noted.details["sha256"] in out.getvalue()
    assert "read back and verified" in noted.words
    assert not old.exists() and (to / noted.details["file"]).exists()


def test_a_record_that_does_not_verify_is_kept_and_no_older_backup_goes(
    run: Run, data: Path, tmp_path: Path
) -> None:
    with without_guards(), connection.cursor() as cursor:
        cursor.execute("UPDATE labbook_sheetentry SET text = '1'")
    old = tmp_path / "record-20200101T020000Z.zip"
    old.touch()
    with pytest.raises(CommandError, match="does not verify; older backups all stay") as told:
        call_command("backup", to=tmp_path, keep_monthly=0, stdout=StringIO())
    assert told.value.returncode == 1
    assert old.exists() and len(list(tmp_path.glob("record-*.zip"))) == 2
    assert not Upkeep.objects.get().is_fine


def test_a_folder_that_cannot_be_written_is_said_and_noted(
    run: Run, data: Path, tmp_path: Path
) -> None:
    in_the_way = tmp_path / "backups"
    in_the_way.write_text("a file where the folder should be")
    with pytest.raises(CommandError, match="No backup was made") as told:
        call_command("backup", to=in_the_way)
    assert told.value.returncode == 2
    assert "could not be written" in Upkeep.objects.get(kind="backup", is_fine=False).words


def test_a_disk_that_is_full_leaves_no_half_a_backup(
    run: Run, data: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(to: Path, *rest: object) -> None:
        to.write_bytes(b"half of it")
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("labbook.exchange.backups.making.write_backup", full)
    with pytest.raises(CommandError, match="could not be written: No space left on device"):
        call_command("backup", to=tmp_path / "backups")
    assert list((tmp_path / "backups").iterdir()) == []
    assert not Upkeep.objects.get().is_fine

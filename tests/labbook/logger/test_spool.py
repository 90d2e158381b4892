"""Readings on disk: there after a crash, gone once they were sent, never mixed with others."""

from __future__ import annotations

from pathlib import Path

import pytest

from labbook.logger import spool as module
from labbook.logger.spool import Reading, Spool, SpoolError


def readings(*numbers: int) -> list[Reading]:
    return [Reading("a", n, "2026-03-01T12:00:00+00:00", f"23.{n}", "°C") for n in numbers]


def left_by(path: Path, *lines: bytes) -> list[Reading]:
    path.write_bytes(b"".join(lines))
    return Spool(path, "mark").waiting()


def test_what_was_not_sent_is_there_after_a_crash(tmp_path: Path) -> None:
    file = tmp_path / "spool"
    before = Spool(file, "mark")
    for reading in readings(1, 2, 3):
        before.add(reading)
    before.done(readings(2))
    assert left_by(tmp_path / "copy", file.read_bytes()) == readings(1, 3)


def test_a_line_cut_by_a_power_failure_is_left_out_and_the_rest_kept(tmp_path: Path) -> None:
    file = tmp_path / "spool"
    before = Spool(file, "mark")
    for reading in readings(1, 2):
        before.add(reading)
    whole = file.read_bytes()
    for cut in range(1, 40):
        assert left_by(tmp_path / f"cut {cut}", whole[:-cut])[0] == readings(1)[0]
    after = Spool(tmp_path / "copy", "mark")
    after.add(readings(3)[0])
    assert after.waiting() == readings(3)


def test_two_loggers_do_not_share_a_spool(tmp_path: Path) -> None:
    first = Spool(tmp_path / "spool", "mark")
    with pytest.raises(SpoolError, match="another logger is using it"):
        Spool(tmp_path / "spool", "mark")
    assert first.waiting() == []


def test_readings_of_another_token_are_not_sent_as_ones_own(tmp_path: Path) -> None:
    file = tmp_path / "spool"
    before = Spool(file, "mark")
    before.add(readings(1)[0])
    whole = file.read_bytes()
    (tmp_path / "copy").write_bytes(whole)
    with pytest.raises(SpoolError, match="1 readings of another token"):
        Spool(tmp_path / "copy", "other mark")
    before.done(readings(1))
    (tmp_path / "sent").write_bytes(file.read_bytes())
    assert Spool(tmp_path / "sent", "other mark").waiting() == []


def test_the_file_does_not_grow_for_ever(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "LARGEST", 2000)
    spool = Spool(tmp_path / "spool", "mark")
    for reading in readings(*range(200)):
        spool.add(reading)
        spool.done([reading])
    assert (tmp_path / "spool").stat().st_size < 3000


def test_a_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(SpoolError, match="cannot be written"):
        Spool(tmp_path / "file" / "spool", "mark")

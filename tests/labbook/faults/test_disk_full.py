"""The disk of the server is full: it is said so, nothing is half written, nothing is lost."""

from __future__ import annotations

import errno
from collections.abc import Iterator

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection

from labbook.lookups.readings import readings_of
from labbook.models import LoggerFile, ReadingBlock, Run
from labbook.views.faults import FULL, fault_of

from .conftest import Page, assert_whole, needs_sqlite

MOST_PAGES = 1_073_741_823  # SQLite's default for max_page_count: sqlite.org/pragma.html


def set_most_pages(pages: int) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"PRAGMA max_page_count = {pages}")


@pytest.fixture
def full(transactional_db: None, run: Run) -> Iterator[None]:
    """The database's file may grow no more, and has no pages left over from earlier tests."""
    with connection.cursor() as cursor:
        cursor.execute("VACUUM")
        cursor.execute("PRAGMA page_count")
        set_most_pages(cursor.fetchone()[0])
    yield
    set_most_pages(MOST_PAGES)


@needs_sqlite
def test_a_reading_is_kept_whole_or_said_not_to_be(pc: Page, run: Run, full: None) -> None:
    answers = [pc.type_reading(number) for number in range(60)]
    kept = [answer for answer in answers if answer.status_code == 200]
    refused = [answer for answer in answers if answer.status_code == 507]
    assert refused and len(kept) + len(refused) == 60
    assert {answer.json()["sentence"] for answer in refused} == {FULL.sentence}
    assert len(readings_of(run)) == ReadingBlock._base_manager.count() == len(kept)
    assert_whole()


@needs_sqlite
def test_what_was_refused_is_taken_once_there_is_room_again(pc: Page, run: Run, full: None) -> None:
    numbers = [number for number in range(60) if pc.type_reading(number).status_code == 507]
    set_most_pages(MOST_PAGES)
    assert {pc.type_reading(number).status_code for number in numbers} == {200}
    assert len(readings_of(run)) == 60


@needs_sqlite
def test_a_file_that_does_not_fit_is_not_kept(pc: Page, full: None) -> None:
    file = SimpleUploadedFile("run.csv", b"0,20.1\n" * 50_000)
    answer = pc.client.post(f"{pc.address}/files/", {"file": file})
    assert answer.status_code == 507
    assert "disk of this record’s server is full" in answer.content.decode()
    assert not LoggerFile.objects.exists()
    assert_whole()


@needs_sqlite
def test_pages_are_still_read(pc: Page, full: None) -> None:
    assert pc.client.get(f"{pc.address}/").status_code == 200


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EDQUOT])
def test_a_full_folder_for_uploads_is_the_same_fault(code: int) -> None:
    """Codes of POSIX.1-2017, <errno.h>."""
    assert fault_of(OSError(code, "no room")) is FULL

"""A migration is interrupted: the next finishes it, and meanwhile it is said what is missing.

``tests/load/migration_kills.py`` kills real ones at moments by chance.
"""

from __future__ import annotations

import pytest
from django.core.checks import run_checks
from django.core.management import call_command
from django.db.migrations.executor import MigrationExecutor

from labbook.checks import check_guards
from labbook.guards import missing_guards
from labbook.lookups.status import BAD, evidence_guards
from labbook.models import Run, SheetEntry

from ..conftest import Laboratory, completed
from .conftest import assert_whole


class Interrupted(BaseException):
    """As if the process had been ended here."""


@pytest.fixture
def interrupted(
    transactional_db: None, laboratory: Laboratory, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A record with evidence whose migration was begun and not ended."""
    completed(run, laboratory)

    def stop(self: MigrationExecutor, *args: object, **kwargs: object) -> None:
        raise Interrupted

    with monkeypatch.context() as patch:
        patch.setattr(MigrationExecutor, "migrate", stop)
        with pytest.raises(Interrupted):
            call_command("migrate", verbosity=0)


def test_the_check_and_the_status_say_that_guards_are_missing(interrupted: None) -> None:
    assert missing_guards()
    (said,) = run_checks(databases=["default"], tags=["database"])
    assert said.id == "labbook.W001" and "run manage.py migrate" in str(said.hint)
    assert evidence_guards().state == BAD
    call_command("migrate", verbosity=0)


def test_the_next_migration_puts_everything_right(interrupted: None) -> None:
    call_command("migrate", verbosity=0)
    assert not missing_guards()
    assert check_guards(databases=["default"]) == []
    assert SheetEntry.objects.exists()
    assert_whole()

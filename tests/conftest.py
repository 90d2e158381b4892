"""What every test shares: a database in a file of its own, so that threads can share it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.core.management.commands.flush import Command as Flush
from django.db import connections

from labbook.guards import without_guards


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest
) -> None:
    """A database for each worker; SQLite's in a file, so that threads can share it."""
    settings = connections["default"].settings_dict
    if settings["ENGINE"].endswith("sqlite3"):
        settings["TEST"]["NAME"] = str(tmp_path_factory.mktemp("database") / "test.sqlite3")
    else:
        request.getfixturevalue("django_db_modify_db_settings_parallel_suffix")


@pytest.fixture(scope="session", autouse=True)
def emptying_past_the_guards() -> Iterator[None]:
    """A test with transactions of its own leaves by emptying every table, evidence too."""
    empty = Flush.handle

    def handle(self: Flush, **options: object) -> None:
        with without_guards(str(options["database"])):
            empty(self, **options)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Flush, "handle", handle)
        yield

"""What every test shares: a database in a file of its own, so that threads can share it."""

from __future__ import annotations

import pytest
from django.db import connections


@pytest.fixture(scope="session")
def django_db_modify_db_settings(tmp_path_factory: pytest.TempPathFactory) -> None:
    """SQLite in a temporary file: a live server and two threads each get their own connection."""
    settings = connections["default"].settings_dict
    if settings["ENGINE"].endswith("sqlite3"):
        settings["TEST"]["NAME"] = str(tmp_path_factory.mktemp("database") / "test.sqlite3")

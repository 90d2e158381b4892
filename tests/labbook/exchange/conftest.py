from __future__ import annotations

import pytest
from django.db.backends.base.base import BaseDatabaseWrapper
from pytest_django import DjangoDbBlocker


@pytest.fixture
def databases_beside(
    db: None, django_db_blocker: DjangoDbBlocker, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Databases made during a test may be opened, too, and not only those named before it."""
    connect = django_db_blocker._real_ensure_connection
    monkeypatch.setattr(BaseDatabaseWrapper, "ensure_connection", connect)

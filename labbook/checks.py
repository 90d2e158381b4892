"""What ``manage.py check --database default`` looks for in the record's database."""

from __future__ import annotations

from collections.abc import Sequence

from django.core.checks import CheckMessage, Tags, Warning, register
from django.db import connections

from .guards import missing_guards
from .models.evidence import Link


@register(Tags.database)
def check_guards(*, databases: Sequence[str] | None = None, **_: object) -> list[CheckMessage]:
    """Say where the database would not refuse a change to evidence: after an interrupted migration.

    A database without any tables yet has nothing to guard.
    """
    found: list[CheckMessage] = []
    for using in databases or ():
        if Link._meta.db_table not in connections[using].introspection.table_names():
            continue
        missing = missing_guards(using)
        if missing:
            words = f"{len(missing)} guards of the evidence are gone, the first is {missing[0]}."
            hint = "A migration was interrupted, or somebody took them away: run manage.py migrate."
            found.append(Warning(words, hint=hint, id="labbook.W001"))
    return found

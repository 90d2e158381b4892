"""What a database holds: nothing yet, this demonstration, or a laboratory of its own."""

from __future__ import annotations

from django.apps import apps
from django.db import connection, models
from simple_history.utils import get_history_manager_for_model

from ..models import Account, Role
from .laboratory import MAKER
from .scenario import Scenario


def holds_demonstration() -> bool:
    return _is_there(Account) and Account.objects.filter(username=MAKER).exists()


def holds_records() -> bool:
    return any(_is_there(model) and model._default_manager.exists() for model in _models())


def made_by_others(scenario: Scenario) -> list[str]:
    """What anybody but its maker has set up in a demonstration since it was built."""
    records = [
        str(record.instance)
        for model in _models()
        if hasattr(model._meta, "simple_history_manager_attribute")
        for record in get_history_manager_for_model(model)
        .filter(history_type="+")
        .exclude(history_user__username=MAKER)
    ]
    people = scenario.people
    known = [MAKER, people["coordinator"]["username"]]
    known += [row["username"] for row in people["assistants"]]
    staff = Account.objects.exclude(role=Role.GROUP).exclude(username__in=known)
    return records + [f"sign-in {account.username}" for account in staff]


def _models() -> list[type[models.Model]]:
    return list(apps.get_app_config("labbook").get_models())


def _is_there(model: type[models.Model]) -> bool:
    return model._meta.db_table in connection.introspection.table_names()

from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate, pre_migrate


class LabbookConfig(AppConfig):
    name = "labbook"
    verbose_name = "Combustion bench record"

    def ready(self) -> None:
        from . import addresses, checks  # noqa: F401  importing them registers their checks, once there are models

        pre_migrate.connect(_take_guards_away, sender=self)
        post_migrate.connect(_put_guards_back, sender=self)


def _take_guards_away(using: str, **rest: Any) -> None:
    """A migration rebuilds tables and may fill in columns; nothing else may."""
    from .guards import remove_guards

    remove_guards(using)


def _put_guards_back(using: str, **rest: Any) -> None:
    from .guards import install_guards

    install_guards(using)

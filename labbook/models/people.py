"""Sign-ins. A student group shares one; each TA and each coordinator has their own."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager
from django.db import models


class Role(models.TextChoices):
    GROUP = "group", "student group"
    ASSISTANT = "assistant", "teaching assistant"
    COORDINATOR = "coordinator", "coordinator"


class AccountManager(BaseUserManager["Account"]):
    def create_user(self, username: str, password: str | None = None, **rest: Any) -> Account:
        account = self.model(username=username.strip().lower(), **rest)
        account.set_password(password)
        account.save()
        return account

    def create_superuser(self, username: str, password: str | None = None, **rest: Any) -> Account:
        return self.create_user(username, password, role=Role.COORDINATOR, **rest)

    def get_by_natural_key(self, username: str | None) -> Account:
        """Sign-in names are kept in lower case, however they are typed on the lab PC."""
        return self.get(username=(username or "").strip().lower())


class Account(AbstractBaseUser):
    username = models.CharField("sign-in name", max_length=40, unique=True)
    name = models.CharField("name shown", max_length=80)
    role = models.CharField(max_length=12, choices=Role)
    group = models.OneToOneField(
        "Group", null=True, blank=True, on_delete=models.PROTECT, related_name="account"
    )
    email = models.EmailField(blank=True)
    campus_name = models.CharField(
        "campus sign-in",
        max_length=120,
        unique=True,
        null=True,
        blank=True,
        help_text="The name the campus sign-on gives this person, where it is used.",
    )
    is_active = models.BooleanField("may sign in", default=True)

    objects = AccountManager()
    USERNAME_FIELD = "username"
    REQUIRED_FIELDS = ["name"]

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="account_group_exactly_for_groups",
                condition=models.Q(role=Role.GROUP, group__isnull=False)
                | (~models.Q(role=Role.GROUP) & models.Q(group__isnull=True)),
            )
        ]

    def __str__(self) -> str:
        return self.name or self.username

    @property
    def is_staff_member(self) -> bool:
        return self.role in (Role.ASSISTANT, Role.COORDINATOR)

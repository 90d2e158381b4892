"""What was done to keep the record itself: backups, checks, moves, each with its outcome."""

from __future__ import annotations

from django.db import models


class Upkeep(models.Model):
    """One backup, verification, restore or move, for the status page."""

    class Kind(models.TextChoices):
        BACKUP = "backup", "backup"
        VERIFY = "verify", "verification"
        RESTORE = "restore", "restore"
        MOVE = "move", "move to another database"

    kind = models.CharField(max_length=8, choices=Kind)
    at = models.DateTimeField()
    is_fine = models.BooleanField()
    words = models.CharField(max_length=400)
    # File name, size, checksum, counts: whatever the kind has to tell.
    details = models.JSONField(default=dict)

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["kind", "-at"], name="upkeep_newest")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.at:%Y-%m-%d %H:%M}"

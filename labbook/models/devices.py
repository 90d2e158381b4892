"""Loggers that send readings by themselves, each with a token of its bench."""

from __future__ import annotations

import hashlib

from django.db import models

from .benches import Bench


class Device(models.Model):
    """A logger of one bench. Its token is shown once; only the token's digest is kept."""

    bench = models.ForeignKey(Bench, on_delete=models.PROTECT, related_name="devices")
    name = models.CharField("what it is", max_length=60, help_text="As on its label.")
    token_sha256 = models.CharField(max_length=64, unique=True, editable=False)
    # The last characters, so that a token in hand can be told from another.
    token_end = models.CharField(max_length=4, editable=False)
    made_at = models.DateTimeField(editable=False)
    made_by = models.ForeignKey(
        "Account", on_delete=models.PROTECT, editable=False, related_name="+"
    )
    revoked_at = models.DateTimeField(null=True, blank=True, editable=False)
    revoked_by = models.ForeignKey(
        "Account", null=True, blank=True, on_delete=models.PROTECT, editable=False, related_name="+"
    )
    last_heard_at = models.DateTimeField(null=True, blank=True, editable=False)
    # What to add to the device's clock to get this server's.
    clock_offset_s = models.FloatField(null=True, blank=True, editable=False)
    # When the device's clock was last set, and how far forward.
    clock_jumped_at = models.DateTimeField(null=True, blank=True, editable=False)
    clock_jump_s = models.FloatField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["bench", "-made_at"]

    def __str__(self) -> str:
        return f"{self.name} of {self.bench}"

    @property
    def is_revoked(self) -> bool:
        return self.revoked_at is not None

    @staticmethod
    def digest(token: str) -> str:
        """A token is random and long, so that one plain digest keeps it."""
        return hashlib.sha256(token.encode()).hexdigest()


class DeviceSeries(models.Model):
    """The sequence numbers a device has sent in one series; a restart begins another.

    ``received`` is a sorted list of closed intervals, [[1, 500], [502, 510]]: a number in it is
    never taken again, however often it is sent.
    """

    device = models.ForeignKey(Device, on_delete=models.PROTECT, related_name="series")
    name = models.CharField(max_length=40, blank=True)
    received = models.JSONField(default=list)
    # What is known of the series' clock, see ``intake.device_clock``.
    clock = models.JSONField(default=dict)
    begun_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["device", "name"], name="series_of_device")]

    def __str__(self) -> str:
        return f"series {self.name or 'without a name'} of {self.device}"


class ReadingToken(models.Model):
    """A program's key to read records, with the rights of the account that made it and no more.

    Shown once; only its digest is kept.
    """

    account = models.ForeignKey(
        "Account", on_delete=models.PROTECT, editable=False, related_name="reading_tokens"
    )
    name = models.CharField("what it is for", max_length=60)
    token_sha256 = models.CharField(max_length=64, unique=True, editable=False)
    token_end = models.CharField(max_length=4, editable=False)
    made_at = models.DateTimeField(editable=False)
    revoked_at = models.DateTimeField(null=True, blank=True, editable=False)
    last_used_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["account", "-made_at"]

    def __str__(self) -> str:
        return f"{self.name}, of {self.account}"

    @property
    def is_revoked(self) -> bool:
        return self.revoked_at is not None

"""Readings in blocks, the files they came from, and the readings struck out.

A block holds one reading while a group types, or a whole file. When a run is completed
its small blocks are copied into one (see ``actions.readings``) and rest. Readings are numbered
1, 2, 3 … within their run and keep their number for good.
"""

from __future__ import annotations

import hashlib
import json
import zlib
from typing import Any

import numpy as np
from django.db import models
from numpy.typing import ArrayLike, NDArray

from .evidence import Evidence


def pack(values: ArrayLike) -> bytes:
    """float64 values, little-endian, compressed."""
    return zlib.compress(np.ascontiguousarray(values, dtype="<f8").tobytes())


def unpack(stored: bytes | memoryview) -> NDArray[np.float64]:
    return np.frombuffer(zlib.decompress(bytes(stored)), dtype="<f8")


class LoggerFile(Evidence):
    """The original bytes of a handed-in file."""

    run = models.ForeignKey("Run", on_delete=models.PROTECT, related_name="files")
    name = models.CharField(max_length=255)
    sha256 = models.CharField(max_length=64, db_index=True)
    content = models.BinaryField()
    size = models.PositiveIntegerField()
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return self.name

    @staticmethod
    def digest(content: bytes) -> str:
        return hashlib.sha256(content).hexdigest()


class FileChoices(models.Model):
    """What was chosen for a logger's layout on a bench, remembered for its next file."""

    bench = models.ForeignKey("Bench", on_delete=models.PROTECT, related_name="file_choices")
    layout = models.CharField(max_length=16)
    choices = models.JSONField()
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["bench", "layout"], name="choices_of_layout")]

    def __str__(self) -> str:
        return f"choices for layout {self.layout} on {self.bench}"


class StandingBlocks(models.Manager["ReadingBlock"]):
    """The blocks that count: those folded into a larger one stay, but are not read again."""

    def get_queryset(self) -> models.QuerySet[ReadingBlock]:
        return super().get_queryset().filter(folded_at__isnull=True)


class ReadingBlock(Evidence):
    LATER = ("folded_at",)

    class Source(models.TextChoices):
        TYPED = "typed", "typed"
        FILE = "file", "file"
        DEVICE = "device", "device"

    run = models.ForeignKey("Run", on_delete=models.PROTECT, related_name="blocks")
    first_number = models.PositiveIntegerField()
    count = models.PositiveIntegerField()
    source = models.CharField(max_length=8, choices=Source)
    times_s = models.BinaryField()
    temperatures_c = models.BinaryField()
    # Figures as typed or as in the file, and for typed readings who entered them when.
    details = models.BinaryField()
    file = models.ForeignKey(LoggerFile, null=True, blank=True, on_delete=models.PROTECT)
    # How the file was understood, without its readings.
    read_as = models.JSONField(null=True, blank=True)
    device = models.ForeignKey("Device", null=True, blank=True, on_delete=models.PROTECT)
    # Made by the page for a typed reading: the same key sent again is the same reading.
    page_key = models.CharField(max_length=36, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")
    folded_at = models.DateTimeField(null=True, blank=True)

    objects = StandingBlocks()

    class Meta:
        ordering = ["run", "first_number"]
        constraints = [
            models.UniqueConstraint(
                fields=["run", "first_number"],
                condition=models.Q(folded_at__isnull=True),
                name="readings_numbered_once",
            ),
            models.UniqueConstraint(
                fields=["run", "page_key"],
                condition=models.Q(page_key__gt=""),
                name="reading_sent_once",
            ),
        ]

    def __str__(self) -> str:
        return f"readings {self.first_number}–{self.first_number + self.count - 1} of {self.run}"

    @property
    def numbers(self) -> NDArray[np.int64]:
        return np.arange(self.first_number, self.first_number + self.count)

    @staticmethod
    def pack_details(details: list[Any]) -> bytes:
        return zlib.compress(json.dumps(details, ensure_ascii=False).encode())

    def read_details(self) -> list[Any]:
        """One dict a reading: ``time`` and ``temperature`` as written.

        Typed readings also say ``at``, ``account`` and ``person``: who, by key.
        """
        details: list[Any] = json.loads(zlib.decompress(bytes(self.details)))
        return details


class ReadingStrike(Evidence):
    """Readings struck out, first to last, with the reason. The readings themselves stay."""

    run = models.ForeignKey("Run", on_delete=models.PROTECT, related_name="strikes")
    first_number = models.PositiveIntegerField()
    last_number = models.PositiveIntegerField()
    reason = models.CharField(max_length=200)
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")
    entered_by = models.ForeignKey(
        "Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["run", "first_number"]
        constraints = [
            models.CheckConstraint(
                name="strike_first_to_last",
                condition=models.Q(last_number__gte=models.F("first_number")),
            )
        ]

    def __str__(self) -> str:
        return f"readings {self.first_number} to {self.last_number} struck out"

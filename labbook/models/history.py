"""What cuts a bench's heat-capacity history, what limits were frozen, what is left out of them."""

from __future__ import annotations

from django.db import models

from .evidence import Evidence


class PhaseBreak(models.Model):
    """A moment after which a bench may not be compared with what it was before."""

    class Cause(models.TextChoices):
        PARTS = "parts", "parts changed"
        WATER = "water", "nominal water changed"
        THERMOMETER = "thermometer", "thermometer recalibrated"
        LOT = "lot", "lot with another basis of mass"

    class State(models.TextChoices):
        PROPOSED = "proposed", "proposed"
        CONFIRMED = "confirmed", "confirmed"
        MERGED = "merged", "merged with the phase before"

    bench = models.ForeignKey("Bench", on_delete=models.PROTECT, related_name="breaks")
    at = models.DateTimeField()
    cause = models.CharField(max_length=12, choices=Cause)
    words = models.CharField(max_length=300)
    configuration = models.ForeignKey(
        "BenchConfiguration", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    state = models.CharField(max_length=10, choices=State, default=State.PROPOSED)
    made_by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")
    decided_by = models.ForeignKey(
        "Account", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    decided_at = models.DateTimeField(null=True, blank=True)
    reason = models.CharField(max_length=400, blank=True)

    class Meta:
        ordering = ["bench", "at"]

    def __str__(self) -> str:
        return f"{self.get_cause_display()}, {self.at:%Y-%m-%d}"


class FrozenLimits(Evidence):
    """A baseline a named person froze: from then on the phase's later values are held to it."""

    bench = models.ForeignKey("Bench", on_delete=models.PROTECT, related_name="frozen_limits")
    begins = models.ForeignKey(
        PhaseBreak, null=True, blank=True, on_delete=models.PROTECT, related_name="frozen_limits"
    )
    # The first value of the phase, counted from 0, that these limits are for.
    first_index = models.PositiveIntegerField()
    n = models.PositiveIntegerField()
    mean_j_per_k = models.FloatField()
    sd_j_per_k = models.FloatField()
    degrees = models.FloatField()
    lower_j_per_k = models.FloatField()
    upper_j_per_k = models.FloatField()
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=400)

    class Meta:
        ordering = ["bench", "pk"]
        verbose_name_plural = "frozen limits"

    def __str__(self) -> str:
        return f"limits of {self.bench} frozen {self.at:%Y-%m-%d}"


class Exclusion(Evidence):
    """A point with a proven cause, kept out of all statistics. It is drawn, never hidden."""

    LATER = ("ended_at", "ended_by", "ended_for")

    standardization = models.ForeignKey(
        "Standardization", on_delete=models.PROTECT, related_name="exclusions"
    )
    cause = models.CharField(max_length=400)
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")
    # Set when the point was taken in again.
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        "Account", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    ended_for = models.CharField(max_length=400, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["standardization"],
                condition=models.Q(ended_at__isnull=True),
                name="excluded_once",
            )
        ]

    def __str__(self) -> str:
        return f"{self.standardization} left out: {self.cause}"

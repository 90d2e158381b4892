"""The bench log: what was done to a bench and what went wrong, and what is due when."""

from __future__ import annotations

from django.core.validators import MinValueValidator
from django.db import models
from simple_history.models import HistoricalRecords

from .benches import Bench, Part
from .evidence import Evidence


class ServicePlan(models.Model):
    """Something done to a part every so many firings or days, whichever is first."""

    words = models.CharField(
        "what is to be done", max_length=60, help_text="As on a list, for example: new seals."
    )
    done_words = models.CharField(
        "once it is done",
        max_length=80,
        help_text="As it reads after “since”, for example: the seals were changed.",
    )
    part_kind = models.CharField(
        "for every part of this kind", max_length=12, choices=Part.Kind, blank=True
    )
    part = models.ForeignKey(
        Part, null=True, blank=True, on_delete=models.PROTECT, verbose_name="or for this part only"
    )
    every_firings = models.PositiveIntegerField(
        "every so many firings", null=True, blank=True, validators=[MinValueValidator(1)]
    )
    every_days = models.PositiveIntegerField(
        "every so many days", null=True, blank=True, validators=[MinValueValidator(1)]
    )
    in_use = models.BooleanField(default=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["words", "pk"]
        constraints = [
            models.CheckConstraint(
                name="plan_for_a_kind_or_a_part",
                condition=models.Q(part_kind__gt="", part__isnull=True)
                | models.Q(part_kind="", part__isnull=False),
                violation_error_message="Choose either a kind of part or one part, not both.",
            ),
            models.CheckConstraint(
                name="plan_by_firings_or_days",
                condition=models.Q(every_firings__isnull=False)
                | models.Q(every_days__isnull=False),
                violation_error_message="Give a number of firings, a number of days, or both.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.words} ({self.part or self.get_part_kind_display()})"

    @property
    def kind(self) -> str:
        """The kind of part it is for, which is also that part's name in a configuration."""
        return self.part.kind if self.part else self.part_kind

    def is_for(self, part: Part) -> bool:
        return self.part_id == part.pk if self.part_id else self.part_kind == part.kind


class BenchEvent(Evidence):
    """One entry of the bench log. Append-only: a mistake is followed by a remark."""

    class Kind(models.TextChoices):
        SERVICE = "service", "service"
        FAULT = "fault", "fault"
        MENDED = "fault mended", "fault mended"
        NEAR_MISS = "near miss", "near miss"
        OUT_OF_SERVICE = "out of service", "taken out of service"
        BACK_IN_SERVICE = "back in service", "back in service"
        RECALIBRATED = "recalibrated", "thermometer recalibrated"
        RELEASED = "released", "released for the day, service overdue"
        REMARK = "remark", "remark"

    bench = models.ForeignKey(Bench, on_delete=models.PROTECT, related_name="events")
    kind = models.CharField(max_length=16, choices=Kind)
    at = models.DateTimeField("when it happened")
    recorded_at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")
    words = models.CharField(max_length=400, blank=True)
    part = models.ForeignKey(
        Part, null=True, blank=True, on_delete=models.PROTECT, related_name="events"
    )
    plan = models.ForeignKey(
        ServicePlan, null=True, blank=True, on_delete=models.PROTECT, related_name="events"
    )
    answers = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="answered_by"
    )

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [
            models.Index(fields=["bench", "-at"], name="events_of_bench"),
            models.Index(fields=["plan", "part", "kind", "-at"], name="services_of_part"),
        ]
        constraints = [
            models.CheckConstraint(
                name="mending_answers_its_fault",
                condition=models.Q(kind="fault mended", answers__isnull=False)
                | (~models.Q(kind="fault mended") & models.Q(answers__isnull=True)),
            ),
            models.CheckConstraint(
                name="release_names_its_plan",
                condition=~models.Q(kind="released")
                | models.Q(plan__isnull=False, part__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} on {self.bench}, {self.at:%Y-%m-%d}"

    @property
    def was_recorded_later(self) -> bool:
        return (self.recorded_at - self.at).total_seconds() > 3600

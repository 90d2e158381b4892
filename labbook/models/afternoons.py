"""A section's afternoon: benches prepared, who came, what is handed over. All append-only."""

from __future__ import annotations

from django.db import models

from .evidence import Evidence


class BenchPreparation(Evidence):
    """A bench prepared for a section's afternoon; released, or not and why."""

    bench = models.ForeignKey("Bench", on_delete=models.PROTECT, related_name="preparations")
    section = models.ForeignKey("Section", on_delete=models.PROTECT, related_name="preparations")
    on = models.DateField()
    is_released = models.BooleanField()
    # The items of the preparation list that were ticked.
    ticked = models.JSONField(default=list)
    words = models.CharField(max_length=400, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["section", "on"], name="preparations_of_afternoon")]

    def __str__(self) -> str:
        return f"{self.bench}, {self.on}: {'released' if self.is_released else 'not released'}"


class Attendance(Evidence):
    """Who came to a section's afternoon and with which group; the newest of a person stands."""

    class Came(models.TextChoices):
        PRESENT = "present", "present"
        LATE = "late", "late"
        ABSENT = "absent", "absent"
        EXCUSED = "excused", "excused"

    section = models.ForeignKey("Section", on_delete=models.PROTECT, related_name="attendances")
    on = models.DateField()
    person = models.ForeignKey("Person", on_delete=models.PROTECT, related_name="attendances")
    # The group worked with that day: another than the own for a visitor.
    group = models.ForeignKey("Group", on_delete=models.PROTECT, related_name="attendances")
    came = models.CharField(max_length=8, choices=Came)
    is_visitor = models.BooleanField(default=False)
    words = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["section", "on"], name="attendances_of_afternoon")]

    def __str__(self) -> str:
        return f"{self.person}, {self.on}: {self.get_came_display()}"


class Handover(Evidence):
    """What a TA leaves open at the end of an afternoon, in words and as a list."""

    section = models.ForeignKey("Section", on_delete=models.PROTECT, related_name="handovers")
    on = models.DateField()
    words = models.CharField(max_length=1000, blank=True)
    # The open items as the page listed them then.
    items = models.JSONField(default=list)
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"handover of {self.section}, {self.on}"

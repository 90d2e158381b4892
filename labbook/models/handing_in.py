"""What a group handed in, and the marks it was given."""

from __future__ import annotations

from django.core.validators import MinValueValidator
from django.db import models
from simple_history.models import HistoricalRecords

from .evidence import Evidence


class HandIn(Evidence):
    """A snapshot of a group's work as it stood. It never changes; a correction is version 2."""

    group = models.ForeignKey("Group", on_delete=models.PROTECT, related_name="hand_ins")
    version = models.PositiveIntegerField()
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")
    entered_by = models.ForeignKey(
        "Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    # What was still missing, as the page listed it when it was handed in.
    missing = models.JSONField(default=list)
    words = models.CharField("what changed", max_length=400, blank=True)
    # The record of every run, canonical JSON, compressed; the package is made from it alone.
    record = models.BinaryField()
    record_sha256 = models.CharField(max_length=64)

    class Meta:
        ordering = ["group", "-version"]
        constraints = [models.UniqueConstraint(fields=["group", "version"], name="hand_in_version")]

    def __str__(self) -> str:
        return f"version {self.version} of group {self.group}"


class MarkScheme(models.Model):
    """What a term's hand-ins are looked at for; points are applied after the ticks."""

    name = models.CharField(max_length=60, unique=True)
    is_blind = models.BooleanField(
        "blind", default=False, help_text="The marker sees a number in place of group and names."
    )
    history = HistoricalRecords()

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Descriptor(models.Model):
    """One thing a marker ticks or leaves blank, with its points."""

    scheme = models.ForeignKey(MarkScheme, on_delete=models.PROTECT, related_name="descriptors")
    part = models.CharField("part", max_length=40, help_text="As a heading: the extrapolation.")
    words = models.CharField("what is seen", max_length=200)
    points = models.DecimalField(
        max_digits=5, decimal_places=2, validators=[MinValueValidator(0)], default=1
    )
    order = models.PositiveIntegerField(default=0)
    in_use = models.BooleanField(default=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["scheme", "order", "pk"]

    def __str__(self) -> str:
        return self.words


class Mark(models.Model):
    """One marker's ticks on one hand-in. Append-only: a marker's newest stands."""

    hand_in = models.ForeignKey(HandIn, on_delete=models.PROTECT, related_name="marks")
    scheme = models.ForeignKey(MarkScheme, on_delete=models.PROTECT, related_name="marks")
    # Every descriptor of the scheme with its words and points as they were then: seen or not.
    ticks = models.JSONField(default=list)
    points = models.DecimalField(max_digits=6, decimal_places=2)
    out_of = models.DecimalField(max_digits=6, decimal_places=2)
    remark = models.CharField(max_length=1000, blank=True)
    # Marked for the comparison of markers only; never sent to the course system.
    is_shared_sample = models.BooleanField(default=False)
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.points} of {self.out_of} for {self.hand_in}"


class SharedHandIn(models.Model):
    """A hand-in that several markers mark by themselves, to see how far apart they are."""

    hand_in = models.OneToOneField(HandIn, on_delete=models.PROTECT, related_name="shared")
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.hand_in}, marked by several"


class MarksGivenOut(models.Model):
    """A section's marks shown to its groups: those that stood at this moment, and no later ones."""

    section = models.ForeignKey("Section", on_delete=models.PROTECT, related_name="marks_given_out")
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"marks of {self.section}, {self.at:%Y-%m-%d %H:%M}"

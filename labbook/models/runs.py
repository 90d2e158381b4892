"""Runs and the entries on their sheets, kept exactly as typed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.db import models

from .evidence import Evidence

if TYPE_CHECKING:
    from .courses import Person
    from .results import Result


class Run(models.Model):
    class Kind(models.TextChoices):
        STANDARDIZATION = "standardization", "standardization"
        UNKNOWN = "unknown", "unknown"
        PRACTICE = "practice", "practice"
        BLANK = "blank", "blank"

    class State(models.TextChoices):
        OPEN = "open", "open"
        FIRED = "fired", "fired"
        COMPLETE = "complete", "complete"
        SIGNED = "signed", "signed"
        SET_ASIDE = "set aside", "set aside"

    class Cause(models.TextChoices):
        MISFIRE = "misfire", "misfire"
        SOOT = "soot", "soot or residue"
        LEAK = "leak", "leak"
        SPILL = "spill", "water or sample spilled"
        READINGS = "readings", "readings lost or spoiled"
        WRONG_MATERIAL = "wrong material", "wrong material or mass"
        OTHER = "other", "other, as remarked"

    group = models.ForeignKey("Group", on_delete=models.PROTECT, related_name="runs")
    bench = models.ForeignKey("Bench", on_delete=models.PROTECT, related_name="runs")
    configuration = models.ForeignKey("BenchConfiguration", on_delete=models.PROTECT)
    method = models.ForeignKey("Method", on_delete=models.PROTECT)
    kind = models.CharField(max_length=16, choices=Kind)
    replicate = models.PositiveIntegerField()
    state = models.CharField(max_length=10, choices=State, default=State.OPEN)
    standardization = models.ForeignKey(
        "Standardization", null=True, blank=True, on_delete=models.PROTECT, related_name="runs"
    )
    rests_on = models.ForeignKey(
        "Standardization",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="dependent_runs",
        help_text="The approved standardization whose C an unknown uses.",
    )
    sample = models.ForeignKey("Sample", null=True, blank=True, on_delete=models.PROTECT)
    standard_lot = models.ForeignKey("StandardLot", null=True, blank=True, on_delete=models.PROTECT)
    fuse_lot = models.ForeignKey("FuseLot", null=True, blank=True, on_delete=models.PROTECT)
    titrant_lot = models.ForeignKey("TitrantLot", null=True, blank=True, on_delete=models.PROTECT)
    aid_lot = models.ForeignKey(
        "AidLot", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    second_aid_lot = models.ForeignKey(
        "AidLot", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    present: models.ManyToManyField[Person, models.Model] = models.ManyToManyField(
        "Person", blank=True, related_name="runs"
    )
    opened_at = models.DateTimeField()
    # When the clock of the readings stood at zero, by this server's clock.
    clock_zero_at = models.DateTimeField(null=True, blank=True)
    # The logger whose readings are taken; blank while readings are typed or come from a file.
    listens_to = models.ForeignKey(
        "Device", null=True, blank=True, on_delete=models.PROTECT, related_name="runs"
    )
    fired_at = models.DateTimeField(null=True, blank=True)
    completed_at = models.DateTimeField(null=True, blank=True)
    signed_at = models.DateTimeField(null=True, blank=True)
    signed_by = models.ForeignKey(
        "Account", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    cause = models.CharField("set aside for", max_length=16, choices=Cause, blank=True)
    # The newest result. All earlier ones stay in Result.
    result = models.OneToOneField(
        "Result", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    # As much of its result as the reader of a list may see; set by lookups.unlocking alone.
    shown: Result | None = None

    class Meta:
        ordering = ["-opened_at"]
        indexes = [
            models.Index(fields=["group", "kind"], name="runs_of_group"),
            models.Index(fields=["bench", "state"], name="runs_of_bench"),
            models.Index(fields=["bench", "fired_at"], name="firings_of_bench"),
            models.Index(
                fields=["bench"],
                name="unfinished_of_bench",
                condition=models.Q(completed_at__isnull=True),
            ),
            models.Index(
                fields=["configuration", "fired_at", "group"],
                name="firings_of_configuration",
                condition=models.Q(fired_at__isnull=False),
            ),
        ]
        constraints = [
            models.CheckConstraint(
                name="unknown_rests_on_standardization",
                condition=~models.Q(kind="unknown")
                | models.Q(rests_on__isnull=False, sample__isnull=False),
            ),
            models.CheckConstraint(
                name="standardization_run_has_its_set",
                condition=~models.Q(kind="standardization")
                | models.Q(standardization__isnull=False),
            ),
            models.CheckConstraint(
                name="set_aside_has_a_cause",
                condition=models.Q(state="set aside", cause__gt="")
                | (~models.Q(state="set aside") & models.Q(cause="")),
            ),
        ]

    def __str__(self) -> str:
        return f"run {self.pk}, {self.get_kind_display()} {self.replicate}"

    @property
    def is_finished(self) -> bool:
        return self.state in (self.State.COMPLETE, self.State.SIGNED, self.State.SET_ASIDE)


class SheetEntry(Evidence):
    """One figure as typed. Append-only: the newest entry of a field is its value."""

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="entries")
    field = models.CharField(max_length=24)
    text = models.CharField(max_length=2000, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")
    entered_by = models.ForeignKey(
        "Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    replaces = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="replaced_by"
    )
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "sheet entries"
        indexes = [models.Index(fields=["run", "field"], name="entries_of_field")]
        constraints = [
            models.UniqueConstraint(
                fields=["run", "field"],
                condition=models.Q(replaces__isnull=True),
                name="one_first_entry_of_field",
            )
        ]

    def __str__(self) -> str:
        return f"{self.field} = {self.text}"

"""What was decided about a run or a standardization: append-only, old and new state."""

from django.db import models

from .evidence import Evidence


class Decision(Evidence):
    class Deed(models.TextChoices):
        OPENED = "opened", "opened"
        UNLOCKED = "unlocked", "unlocked the limit"
        FIRED = "fired", "marked the firing"
        COMPLETED = "completed", "completed"
        SIGNED = "signed", "signed"
        SET_ASIDE = "set aside", "set aside"
        TAKEN_UP = "taken up", "taken up again"
        PUT_FORWARD = "put forward", "put forward"
        TAKEN_BACK = "taken back", "taken back"
        APPROVED = "approved", "approved"
        SENT_BACK = "sent back", "sent back"
        WITHDRAWN = "withdrawn", "withdrawn"
        LAPSED = "lapsed", "lapsed"

    run = models.ForeignKey(
        "Run", null=True, blank=True, on_delete=models.PROTECT, related_name="decisions"
    )
    standardization = models.ForeignKey(
        "Standardization", null=True, blank=True, on_delete=models.PROTECT, related_name="decisions"
    )
    deed = models.CharField(max_length=12, choices=Deed)
    old = models.CharField(max_length=12, blank=True)
    new = models.CharField(max_length=12, blank=True)
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    reason = models.CharField(max_length=400, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                name="decision_about_exactly_one",
                condition=models.Q(run__isnull=False, standardization__isnull=True)
                | models.Q(run__isnull=True, standardization__isnull=False),
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_deed_display()} {self.at:%Y-%m-%d %H:%M}"

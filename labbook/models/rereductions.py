"""Reducing finished runs again: what would move, and what was moved."""

from __future__ import annotations

from django.db import models


class Rereduction(models.Model):
    """A selection of runs to be reduced again, for one reason, perhaps by another method."""

    made_at = models.DateTimeField()
    made_by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=200)
    selection = models.JSONField(default=dict)
    method = models.ForeignKey("Method", null=True, blank=True, on_delete=models.PROTECT)
    version = models.CharField("reduction version", max_length=20)
    # Set when somebody decided to apply it; until then it only shows what would move.
    applied_at = models.DateTimeField(null=True, blank=True)
    applied_by = models.ForeignKey(
        "Account", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"re-reduction {self.pk}"


class RereductionItem(models.Model):
    """One run of a re-reduction: its result before, the outcome now, the result once applied."""

    rereduction = models.ForeignKey(Rereduction, on_delete=models.PROTECT, related_name="items")
    run = models.ForeignKey("Run", on_delete=models.PROTECT, related_name="+")
    before = models.ForeignKey(
        "Result", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    # The headline figures and the failure of the new computation; None until worked out.
    outcome = models.JSONField(null=True)
    after = models.ForeignKey(
        "Result", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["rereduction", "run"], name="run_once_in_rereduction")
        ]

    def __str__(self) -> str:
        return f"{self.run} in {self.rereduction}"

"""A bench's set of standardization runs, and the value approved from it."""

from __future__ import annotations

from datetime import datetime
from math import sqrt
from typing import TYPE_CHECKING, NamedTuple

from django.db import models

if TYPE_CHECKING:
    from .results import Result


class Approval(NamedTuple):
    """What was approved, when: the mean heat capacity with its spread, frozen at the decision."""

    at: datetime
    c_j_per_k: float
    s_j_per_k: float | None
    half_width_j_per_k: float | None
    n: int
    common_u_j_per_k: float = 0.0

    @property
    def u_j_per_k(self) -> float | None:
        """`u² = s²/n + u_common²`: the scatter of the runs, and what all of them share."""
        if self.s_j_per_k is None:
            return None
        return sqrt(self.s_j_per_k**2 / self.n + self.common_u_j_per_k**2)

    @property
    def dof(self) -> float | None:
        """Effective degrees of freedom of u by Welch–Satterthwaite, the common part well known."""
        if not self.u_j_per_k or not self.s_j_per_k or self.n < 2:
            return None
        return self.u_j_per_k**4 * (self.n - 1) / (self.s_j_per_k**2 / self.n) ** 2


class Standardization(models.Model):
    class State(models.TextChoices):
        GATHERING = "gathering", "gathering"
        PUT_FORWARD = "put forward", "put forward"
        APPROVED = "approved", "approved"
        SENT_BACK = "sent back", "sent back"
        WITHDRAWN = "withdrawn", "withdrawn"
        LAPSED = "lapsed", "lapsed"

    bench = models.ForeignKey("Bench", on_delete=models.PROTECT, related_name="standardizations")
    configuration = models.ForeignKey("BenchConfiguration", on_delete=models.PROTECT)
    group = models.ForeignKey("Group", on_delete=models.PROTECT, related_name="standardizations")
    method = models.ForeignKey("Method", on_delete=models.PROTECT)
    state = models.CharField(max_length=12, choices=State, default=State.GATHERING)
    opened_at = models.DateTimeField()
    put_forward_at = models.DateTimeField(null=True, blank=True)
    # What was approved, frozen at the decision; later reductions never move it.
    approved_at = models.DateTimeField(null=True, blank=True)
    approved_by = models.ForeignKey(
        "Account", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    approved_c_j_per_k = models.FloatField(null=True, blank=True)
    approved_s_j_per_k = models.FloatField(null=True, blank=True)
    approved_half_width_j_per_k = models.FloatField(null=True, blank=True)
    approved_n = models.PositiveIntegerField(null=True, blank=True)
    # What certificate, wire lot, balance … add to every run alike, by the runs’ budgets.
    approved_common_u_j_per_k = models.FloatField(null=True, blank=True)
    approved_results: models.ManyToManyField[Result, models.Model] = models.ManyToManyField(
        "Result", related_name="+"
    )
    lapses_on = models.DateField(null=True, blank=True)
    # How the bench stood by its history with this value, when it was approved.
    standing_then = models.CharField(max_length=16, blank=True)
    was_outside = models.BooleanField("approved outside its history", default=False)

    EDITABLE = (State.GATHERING, State.SENT_BACK)

    class Meta:
        ordering = ["-opened_at"]
        indexes = [
            models.Index(fields=["bench", "state", "approved_at"], name="approved_of_bench"),
            models.Index(fields=["bench", "approved_at"], name="history_of_bench"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["bench", "group"],
                condition=models.Q(state__in=["gathering", "put forward", "sent back"]),
                name="one_unfinished_standardization",
            ),
            models.CheckConstraint(
                name="approval_is_whole",
                condition=~models.Q(state="approved")
                | models.Q(
                    approved_at__isnull=False,
                    approved_by__isnull=False,
                    approved_c_j_per_k__isnull=False,
                    approved_n__gte=2,
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"standardization {self.pk} of {self.bench}"

    @property
    def approval(self) -> Approval | None:
        """The frozen value, also of an approval that was withdrawn or has lapsed since."""
        if self.approved_at is None or self.approved_c_j_per_k is None:
            return None
        return Approval(
            self.approved_at,
            self.approved_c_j_per_k,
            self.approved_s_j_per_k,
            self.approved_half_width_j_per_k,
            self.approved_n or 0,
            self.approved_common_u_j_per_k or 0.0,
        )

    @property
    def is_editable(self) -> bool:
        return self.state in self.EDITABLE

"""The students' own numbers, and the literature values they found. Append-only."""

from __future__ import annotations

from django.core.validators import MaxValueValidator
from django.db import models

from .evidence import Evidence


class HandFigure(Evidence):
    """One hand figure as typed, with its unit; the newest of a key is its value."""

    run = models.ForeignKey("Run", on_delete=models.PROTECT, related_name="hand_figures")
    key = models.CharField(max_length=24)
    text = models.CharField(max_length=40, blank=True)
    unit = models.CharField(max_length=16, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")
    entered_by = models.ForeignKey(
        "Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    replaces = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="replaced_by"
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["run", "key"],
                condition=models.Q(replaces__isnull=True),
                name="one_first_hand_figure",
            )
        ]

    def __str__(self) -> str:
        return f"{self.key} = {self.text} {self.unit}".strip()

    @property
    def field(self) -> str:
        """As an entry on the sheet names its field."""
        return self.key


class HandFiguresSaved(Evidence):
    """The group said its hand figures stand: the moment ours may show beside them."""

    run = models.ForeignKey("Run", on_delete=models.PROTECT, related_name="hand_figures_saved")
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")
    entered_by = models.ForeignKey(
        "Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "hand figures saved"

    def __str__(self) -> str:
        return f"hand figures of {self.run} stand"


class LiteratureValue(Evidence):
    """A value a group looked up after the reveal, with its whole citation; the newest stands."""

    LATER = ("looked_up_at", "looked_up_by")

    run = models.ForeignKey("Run", on_delete=models.PROTECT, related_name="literature")
    dch_kj_per_mol = models.DecimalField(
        "ΔcH° (kJ/mol)", max_digits=10, decimal_places=3, validators=[MaxValueValidator(0)]
    )
    u_kj_per_mol = models.DecimalField(
        "its uncertainty (kJ/mol)", max_digits=8, decimal_places=3, null=True, blank=True
    )
    source = models.CharField("source", max_length=200)
    edition = models.CharField("edition or year", max_length=60)
    place = models.CharField("page or table", max_length=60)
    at = models.DateTimeField(editable=False)
    by = models.ForeignKey("Account", on_delete=models.PROTECT, editable=False, related_name="+")
    entered_by = models.ForeignKey(
        "Person", null=True, blank=True, on_delete=models.PROTECT, editable=False, related_name="+"
    )
    looked_up_at = models.DateTimeField(null=True, blank=True, editable=False)
    looked_up_by = models.ForeignKey(
        "Account", null=True, blank=True, on_delete=models.PROTECT, editable=False, related_name="+"
    )

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.dch_kj_per_mol} kJ/mol, {self.citation}"

    @property
    def citation(self) -> str:
        return f"{self.source}, {self.edition}, {self.place}"

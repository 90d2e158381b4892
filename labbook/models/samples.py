"""Substances with their literature values, and the labelled samples given to groups."""

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from simple_history.models import HistoricalRecords

from .. import clock
from .evidence import Evidence


class Substance(models.Model):
    class Phase(models.TextChoices):
        SOLID = "s", "solid"
        LIQUID = "l", "liquid"

    name = models.CharField(max_length=80, unique=True)
    formula = models.CharField(max_length=40)
    phase = models.CharField(max_length=1, choices=Phase, default=Phase.SOLID)
    density_g_per_cm3 = models.DecimalField(
        "density (g/cm³)",
        max_digits=6,
        decimal_places=3,
        null=True,
        blank=True,
        help_text="Brings the mass weighed in air to vacuum; blank leaves that out.",
    )
    literature_dch_kj_per_mol = models.DecimalField(
        "literature ΔcH° (kJ/mol)",
        max_digits=10,
        decimal_places=3,
        null=True,
        blank=True,
        validators=[MaxValueValidator(0)],
        help_text="Negative: heat released is counted as lost by the substance.",
    )
    literature_u_kj_per_mol = models.DecimalField(
        "its uncertainty (kJ/mol)", max_digits=8, decimal_places=3, null=True, blank=True
    )
    citation = models.CharField(max_length=300, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                name="literature_value_needs_citation",
                condition=models.Q(literature_dch_kj_per_mol__isnull=True) | ~models.Q(citation=""),
                violation_error_message=(
                    "A literature value needs its citation: source, edition, page or table."
                ),
            )
        ]

    def __str__(self) -> str:
        return self.name


class Sample(models.Model):
    """A labelled vial. Its identity is staff's until it is revealed."""

    term = models.ForeignKey("Term", on_delete=models.PROTECT, related_name="samples")
    label = models.CharField(max_length=20)
    substance = models.ForeignKey(Substance, on_delete=models.PROTECT, related_name="+")
    max_charge_g = models.DecimalField(
        "most charge (g)",
        max_digits=5,
        decimal_places=3,
        validators=[MinValueValidator(0)],
        help_text="Shown to the group with the label, so that the bench's energy limit holds.",
    )
    lot = models.CharField("lot", max_length=60, blank=True)
    difficulty = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(3)], help_text="1 to 3."
    )
    reveal_on = models.DateField(
        "revealed on", null=True, blank=True, help_text="Blank: revealed by hand."
    )
    revealed_at = models.DateTimeField(null=True, blank=True, editable=False)
    history = HistoricalRecords()

    class Meta:
        ordering = ["term", "label"]
        constraints = [models.UniqueConstraint(fields=["term", "label"], name="label_in_term")]

    def __str__(self) -> str:
        return self.label

    @property
    def is_hidden(self) -> bool:
        return self.revealed_at is None

    @property
    def is_due(self) -> bool:
        return self.is_hidden and self.reveal_on is not None and self.reveal_on <= clock.today()

    @property
    def charge_limit_g(self) -> Decimal:
        """The most charge a group is told and held to.

        While a sample is hidden it is the smallest of the term's: safe for all of them, and the
        same for each, since 0.75 g here and 1.1 g there would sort the vials by what they release.
        """
        if not self.is_hidden:
            return self.max_charge_g
        smallest = Sample.objects.filter(term=self.term_id).aggregate(g=models.Min("max_charge_g"))
        found: Decimal = smallest["g"]
        return found


class SampleIssue(Evidence):
    """A sample given to a group. Append-only: the newest of a group stands."""

    sample = models.ForeignKey(Sample, on_delete=models.PROTECT, related_name="issues")
    group = models.ForeignKey("Group", on_delete=models.PROTECT, related_name="issues")
    reason = models.CharField(max_length=400, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey("Account", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.sample} to group {self.group}"

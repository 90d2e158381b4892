"""Benches, the parts they are made of, and their dated configurations."""

from __future__ import annotations

import secrets
from typing import Any

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from simple_history.models import HistoricalRecords

from .evidence import Evidence


class Part(models.Model):
    class Kind(models.TextChoices):
        VESSEL = "vessel", "combustion vessel"
        HEAD = "head", "head"
        BUCKET = "bucket", "bucket"
        STIRRER = "stirrer", "stirrer"
        THERMOMETER = "thermometer", "thermometer"
        JACKET = "jacket", "jacket"

    kind = models.CharField(max_length=12, choices=Kind)
    serial = models.CharField("serial or mark", max_length=40)
    remark = models.CharField(max_length=200, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["kind", "serial"]
        constraints = [models.UniqueConstraint(fields=["kind", "serial"], name="part_serial")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.serial}"


LABEL_LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ"  # none that is taken for a figure


def new_label() -> str:
    """Eight letters that say nothing about the bench they stand for."""
    return "".join(secrets.choice(LABEL_LETTERS) for _ in range(8))


class Bench(models.Model):
    code = models.SlugField(max_length=12, unique=True)
    place = models.CharField(max_length=60, blank=True)
    in_service = models.BooleanField(default=True)
    # On the label at the bench: opens this bench's page and betrays nothing.
    label = models.CharField(max_length=8, unique=True, editable=False, default=new_label)
    history = HistoricalRecords()

    class Meta:
        ordering = ["code"]
        verbose_name_plural = "benches"

    def __str__(self) -> str:
        return f"bench {self.code}"

    @property
    def configuration(self) -> BenchConfiguration | None:
        """What the bench consists of now; None before its parts were first recorded."""
        return self.configurations.order_by("-since").first()


def _part(kind: Part.Kind) -> models.ForeignKey[Part, Part]:
    return models.ForeignKey(
        Part, on_delete=models.PROTECT, related_name="+", limit_choices_to={"kind": kind}
    )


def _positive(label: str, digits: int, places: int, **rest: Any) -> Any:
    return models.DecimalField(
        label,
        max_digits=digits,
        decimal_places=places,
        validators=[MinValueValidator(0)],
        **rest,
    )


class BenchConfiguration(Evidence):
    """What a bench consists of from a moment on. Never edited: a change is a new row."""

    class JacketKind(models.TextChoices):
        ISOPERIBOL = "isoperibol", "isoperibol"
        ADIABATIC = "adiabatic", "adiabatic"
        STATIC = "static", "static"

    bench = models.ForeignKey(Bench, on_delete=models.PROTECT, related_name="configurations")
    since = models.DateTimeField()
    vessel = _part(Part.Kind.VESSEL)
    head = _part(Part.Kind.HEAD)
    bucket = _part(Part.Kind.BUCKET)
    stirrer = _part(Part.Kind.STIRRER)
    thermometer = _part(Part.Kind.THERMOMETER)
    jacket = _part(Part.Kind.JACKET)
    jacket_kind = models.CharField(max_length=12, choices=JacketKind, default=JacketKind.ISOPERIBOL)
    thermometer_step_k = _positive("thermometer reads to (K)", 7, 5, default="0.001")
    nominal_water_g = _positive("nominal bucket water (g)", 7, 2)
    bomb_volume_ml = _positive("bomb volume (mL)", 6, 1)
    max_charge_g = _positive("most charge (g)", 5, 3, default="1.1")
    max_energy_kj = _positive("most energy of a charge (kJ)", 5, 1, default="33.0")
    max_oxygen_atm = _positive("most oxygen pressure (atm)", 5, 1, default="30.0")
    reason = models.CharField("what changed", max_length=200)
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, editable=False, related_name="+"
    )

    PARTS = ("vessel", "head", "bucket", "stirrer", "thermometer", "jacket")

    class Meta:
        ordering = ["bench", "-since"]
        constraints = [
            models.UniqueConstraint(fields=["bench", "since"], name="one_configuration_at_a_time")
        ]

    def __str__(self) -> str:
        return f"{self.bench} from {self.since:%Y-%m-%d}"

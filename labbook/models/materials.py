"""Lots with their certificates: the standard, the fuse wire, the titrant."""

from django.core.validators import MinValueValidator
from django.db import models
from simple_history.models import HistoricalRecords


class StandardLot(models.Model):
    class Basis(models.TextChoices):
        VACUUM = "vacuum", "mass in vacuum"
        AIR = "air", "mass weighed in air"

    code = models.CharField("lot", max_length=40, unique=True)
    substance = models.ForeignKey("Substance", on_delete=models.PROTECT, related_name="+")
    value_j_per_g = models.DecimalField(
        "certificate value (J/g)", max_digits=9, decimal_places=2, validators=[MinValueValidator(1)]
    )
    u_j_per_g = models.DecimalField(
        "standard uncertainty (J/g)",
        max_digits=7,
        decimal_places=2,
        validators=[MinValueValidator(0)],
        help_text="A certificate usually prints an expanded uncertainty: divide it by its k.",
    )
    basis = models.CharField(max_length=8, choices=Basis)
    density_g_per_cm3 = models.DecimalField(
        "density (g/cm³)", max_digits=6, decimal_places=3, default="1.320"
    )
    certificate = models.CharField(
        "certificate", max_length=200, help_text="Who issued it, its number and date."
    )
    conditions = models.CharField("certificate conditions", max_length=200, blank=True)
    in_use = models.BooleanField(default=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-in_use", "code"]

    def __str__(self) -> str:
        return self.code


class FuseLot(models.Model):
    class Basis(models.TextChoices):
        LENGTH = "J/cm", "by length (J/cm)"
        MASS = "J/g", "by mass (J/g)"

    code = models.CharField("lot", max_length=40, unique=True)
    material = models.CharField(max_length=60)
    basis = models.CharField(max_length=4, choices=Basis)
    value = models.DecimalField(
        "heat (J/cm or J/g)", max_digits=9, decimal_places=3, validators=[MinValueValidator(0)]
    )
    source = models.CharField(max_length=200)
    in_use = models.BooleanField(default=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-in_use", "code"]

    def __str__(self) -> str:
        return self.code

    @property
    def measured_in(self) -> str:
        return "cm" if self.basis == self.Basis.LENGTH else "g"


class TitrantLot(models.Model):
    code = models.CharField("lot", max_length=40, unique=True)
    solute = models.CharField(max_length=40)
    mol_per_l = models.DecimalField(
        "concentration of base (mol/L)",
        max_digits=8,
        decimal_places=5,
        validators=[MinValueValidator(0)],
        help_text="Counted per H⁺: 0.0354 mol/L of sodium carbonate is 0.0708 mol/L here.",
    )
    in_use = models.BooleanField(default=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-in_use", "code"]

    def __str__(self) -> str:
        return self.code


class AidLot(models.Model):
    """A combustion aid: a capsule, oil, added standard; its heat from the laboratory's blanks."""

    code = models.CharField("lot", max_length=40, unique=True)
    material = models.CharField(max_length=60)
    j_per_g = models.DecimalField(
        "heat (J/g)", max_digits=9, decimal_places=1, validators=[MinValueValidator(0)]
    )
    source = models.CharField(max_length=200)
    in_use = models.BooleanField(default=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-in_use", "code"]

    def __str__(self) -> str:
        return self.code


# The field of the run sheet, and of the run, that names a lot of each kind.
LOTS: dict[str, type[models.Model]] = {
    "standard_lot": StandardLot,
    "fuse_lot": FuseLot,
    "titrant_lot": TitrantLot,
    "aid_lot": AidLot,
    "second_aid_lot": AidLot,
}

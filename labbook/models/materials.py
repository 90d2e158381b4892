"""Lots with their certificates: the standard, the fuse wire, the titrant."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from simple_history.models import HistoricalRecords


class StandardLot(models.Model):
    class Basis(models.TextChoices):
        VACUUM = "vacuum", "mass in vacuum"
        AIR = "air", "mass weighed in air"

    class Literature(models.TextChoices):
        DCH = "dch", "ΔcH per mole"
        DCU = "dcu", "ΔcU per mole"

    code = models.CharField("lot", max_length=40, unique=True)
    substance = models.ForeignKey("Substance", on_delete=models.PROTECT, related_name="+")
    value_j_per_g = models.DecimalField(
        "certificate value (J/g)",
        max_digits=9,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(1)],
    )
    u_j_per_g = models.DecimalField(
        "its standard uncertainty (J/g)",
        max_digits=7,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
        help_text="A certificate usually prints an expanded uncertainty: divide it by its k.",
    )
    literature = models.CharField(
        "or a literature value", max_length=3, choices=Literature, blank=True
    )
    literature_kj_per_mol = models.DecimalField(
        "literature value (kJ/mol)",
        max_digits=9,
        decimal_places=3,
        null=True,
        blank=True,
        validators=[MaxValueValidator(0)],
        help_text="Negative. Converted to J/g with Δn·RT; the conversion is shown with the result.",
    )
    u_kj_per_mol = models.DecimalField(
        "its standard uncertainty (kJ/mol)",
        max_digits=7,
        decimal_places=3,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )
    basis = models.CharField(max_length=8, choices=Basis)
    density_g_per_cm3 = models.DecimalField(
        "density (g/cm³)", max_digits=6, decimal_places=3, default="1.320"
    )
    certificate = models.CharField(
        "certificate or citation",
        max_length=200,
        help_text="Who issued it, its number and date; of a literature value, edition and page.",
    )
    conditions = models.CharField("certificate conditions", max_length=200, blank=True)
    in_use = models.BooleanField(default=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-in_use", "code"]
        constraints = [
            models.CheckConstraint(
                name="standard_has_one_value",
                condition=models.Q(
                    value_j_per_g__isnull=False, literature="", literature_kj_per_mol__isnull=True
                )
                | models.Q(
                    value_j_per_g__isnull=True,
                    literature__gt="",
                    literature_kj_per_mol__isnull=False,
                ),
                violation_error_message=(
                    "Give either the certificate's J/g, or a literature value with its kind."
                ),
            )
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def value_words(self) -> str:
        if self.value_j_per_g is not None:
            return f"{self.value_j_per_g} J/g"
        return f"{self.get_literature_display()} {self.literature_kj_per_mol} kJ/mol"


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

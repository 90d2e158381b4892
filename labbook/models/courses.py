"""The course: its method, terms, sections, groups and the people in them."""

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from simple_history.models import HistoricalRecords

from ..cautions import usual_checklist


class RiseMethod(models.TextChoices):
    REGNAULT_PFAUNDLER = "regnault_pfaundler", "Regnault–Pfaundler"
    FRACTION = "fraction", "fraction of the rise, 0.632 (Dickinson)"
    FRACTION_060 = "fraction_060", "fraction of the rise, 0.60"
    EQUAL_AREAS = "equal_areas", "equal areas"
    HEAT_BALANCE = "heat_balance", "heat-balance fit"
    DIFFERENCE = "difference", "plain difference (adiabatic jacket only)"


class Method(models.Model):
    """How a course reduces its runs. A change is a new version; runs keep the one they used."""

    name = models.CharField(max_length=60)
    version = models.PositiveIntegerField(default=1, editable=False)
    rise_method = models.CharField(
        "corrected rise by",
        max_length=24,
        choices=RiseMethod,
        default=RiseMethod.REGNAULT_PFAUNDLER,
    )
    correct_bucket_water = models.BooleanField("bring C to the run's bucket water", default=True)
    correct_buoyancy = models.BooleanField("weighing in air (buoyancy)", default=True)
    correct_conditions = models.BooleanField("certificate conditions", default=False)
    correct_fuse = models.BooleanField("fuse wire", default=True)
    correct_thread = models.BooleanField("cotton thread", default=True)
    correct_acid = models.BooleanField("nitric acid by titre", default=True)
    correct_aids = models.BooleanField("combustion aids", default=True)
    correct_standard_state = models.BooleanField(
        "reduction to the standard state (an estimate)", default=False
    )
    correct_contents = models.BooleanField("heat capacity of the contents", default=False)
    thread_j_per_g = models.DecimalField(
        "heat of the thread (J/g)",
        max_digits=9,
        decimal_places=1,
        default=17500,
        help_text="17 500 J/g for cotton is from memory: give your laboratory's own value.",
    )
    acid_kj_per_mol = models.DecimalField(
        "heat of nitric acid formation (kJ/mol)",
        max_digits=6,
        decimal_places=2,
        default="59.70",
        help_text="59.7 kJ/mol is from memory; course texts print 59.8 and 60.6.",
    )
    reading_interval_s = models.PositiveIntegerField(
        "reading interval (s)", default=15, validators=[MinValueValidator(1), MaxValueValidator(60)]
    )
    default_oxygen_atm = models.DecimalField(
        "usual oxygen pressure (atm)", max_digits=5, decimal_places=1, default=25
    )
    default_water_ml = models.DecimalField(
        "usual water in the bomb (mL)", max_digits=5, decimal_places=2, default=1
    )
    min_replicates = models.PositiveIntegerField(
        "standardization runs needed", default=2, validators=[MinValueValidator(2)]
    )
    approval_lasts_days = models.PositiveIntegerField(
        "an approval lasts (days)", default=120, validators=[MinValueValidator(1)]
    )
    acceptable_spread_percent = models.DecimalField(
        "acceptable standard deviation of C (%)",
        max_digits=5,
        decimal_places=2,
        default="0.60",
        validators=[MinValueValidator(0)],
    )
    # Only what differs from the reduction's own defaults, by name.
    input_uncertainties = models.JSONField(default=dict, blank=True)
    thresholds = models.JSONField(default=dict, blank=True)
    firing_checklist = models.TextField(
        "checklist before firing",
        blank=True,
        default=usual_checklist,
        help_text="One item a line. A person who is present ticks each before the charge is fired.",
    )
    made_at = models.DateTimeField(editable=False)
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, editable=False, related_name="+"
    )

    class Meta:
        ordering = ["name", "-version"]
        constraints = [models.UniqueConstraint(fields=["name", "version"], name="method_version")]

    def __str__(self) -> str:
        return f"{self.name}, version {self.version}"


class Unlock(models.TextChoices):
    """When a group sees the record's own values of its runs."""

    AT_ONCE = "at once", "at once"
    HAND_FIGURES = "hand figures", "after its hand figures"
    HAND_IN = "hand-in", "after it has handed in"
    NEVER = "never", "never"


class Term(models.Model):
    name = models.CharField(max_length=40, unique=True)
    starts = models.DateField()
    ends = models.DateField()
    method = models.ForeignKey(Method, on_delete=models.PROTECT)
    is_practice = models.BooleanField(
        "practice term", default=False, help_text="Kept out of charts and firing counts."
    )
    ours_unlock = models.CharField(
        "computed values show",
        max_length=12,
        choices=Unlock,
        default=Unlock.HAND_FIGURES,
        help_text="To students. Staff always see them.",
    )
    mark_scheme = models.ForeignKey(
        "MarkScheme", null=True, blank=True, on_delete=models.PROTECT, verbose_name="marked by"
    )
    names_until = models.DateField(
        "names are kept until", null=True, blank=True, help_text="Blank: no end is set."
    )
    marks_until = models.DateField(
        "marks are kept until", null=True, blank=True, help_text="Blank: no end is set."
    )
    history = HistoricalRecords()

    class Meta:
        ordering = ["-starts"]
        constraints = [
            models.CheckConstraint(
                name="term_ends_after_start",
                condition=models.Q(ends__gte=models.F("starts")),
                violation_error_message="The term ends before it starts: check both dates.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class Section(models.Model):
    term = models.ForeignKey(Term, on_delete=models.PROTECT, related_name="sections")
    name = models.CharField(max_length=40)
    meets = models.CharField("meets", max_length=60, blank=True)
    assistants = models.ManyToManyField(
        settings.AUTH_USER_MODEL,
        blank=True,
        limit_choices_to={"role": "assistant"},
        related_name="sections",
    )
    history = HistoricalRecords(m2m_fields=[assistants])

    class Meta:
        ordering = ["-term__starts", "name"]
        constraints = [models.UniqueConstraint(fields=["term", "name"], name="section_of_term")]

    def __str__(self) -> str:
        return f"{self.name}, {self.term}"


class Group(models.Model):
    section = models.ForeignKey(Section, on_delete=models.PROTECT, related_name="groups")
    code = models.CharField(max_length=12)
    bench = models.ForeignKey(
        "Bench", null=True, blank=True, on_delete=models.PROTECT, verbose_name="booked bench"
    )
    history = HistoricalRecords()

    class Meta:
        ordering = ["section", "code"]
        constraints = [models.UniqueConstraint(fields=["section", "code"], name="group_of_section")]

    def __str__(self) -> str:
        return self.code


class Person(models.Model):
    """A student. Sign-ins belong to groups; a person is who was present."""

    name = models.CharField(max_length=80)
    student_number = models.CharField(max_length=24, blank=True)
    # The identifier of the roster a person came with; the same person comes again by it.
    roster_id = models.CharField(max_length=60, blank=True, editable=False, db_index=True)
    pseudonymized_at = models.DateTimeField(null=True, blank=True, editable=False)
    history = HistoricalRecords()

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "people"

    def __str__(self) -> str:
        return self.name


class Membership(models.Model):
    """A person's time in a group; a move ends one row and starts another."""

    group = models.ForeignKey(Group, on_delete=models.PROTECT, related_name="memberships")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="memberships")
    since = models.DateField()
    until = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["person__name"]
        constraints = [
            models.UniqueConstraint(
                fields=["group", "person"],
                condition=models.Q(until__isnull=True),
                name="member_once_at_a_time",
            )
        ]

    def __str__(self) -> str:
        return f"{self.person} in {self.group}"

"""Set-up forms for the coordinator, one for each kind of record."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django import forms
from django.db.models import Model
from django.utils import timezone

from reduction.combustion import parse_formula
from reduction.errors import InputError, ReductionError
from reduction.notes import Thresholds
from reduction.records import read_record
from reduction.uncertainties import InputUncertainties

from .. import clock
from ..models import (
    Account,
    AidLot,
    Bench,
    BenchConfiguration,
    FuseLot,
    Group,
    Membership,
    Method,
    Part,
    Person,
    Role,
    Sample,
    Section,
    ServicePlan,
    StandardLot,
    Substance,
    Term,
    TitrantLot,
)

if TYPE_CHECKING:
    AnyModelForm = forms.ModelForm[Any]
else:
    AnyModelForm = forms.ModelForm


class DateInput(forms.DateInput):
    input_type = "date"


class SubstanceForm(AnyModelForm):
    class Meta:
        model = Substance
        fields = [
            "name",
            "formula",
            "phase",
            "density_g_per_cm3",
            "literature_dch_kj_per_mol",
            "literature_u_kj_per_mol",
            "citation",
        ]

    def clean_formula(self) -> str:
        formula: str = self.cleaned_data["formula"]
        try:
            parse_formula(formula)
        except ReductionError as error:
            raise forms.ValidationError(str(error)) from error
        return formula


class MethodForm(AnyModelForm):
    """A method with one field for each default of the reduction that a course may set."""

    GROUPS = (
        ("input_uncertainties", InputUncertainties, "Uncertainties of what is typed in"),
        ("thresholds", Thresholds, "When a note is worth making"),
    )

    class Meta:
        model = Method
        exclude = ("version", "made_by", "made_at", "input_uncertainties", "thresholds")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for group, defaults, _ in self.GROUPS:
            kept = getattr(self.instance, group)
            for item in dataclasses.fields(defaults):
                self.fields[f"{group}-{item.name}"] = forms.FloatField(
                    required=False,
                    label=_setting_words(item),
                    initial=kept.get(item.name),
                    help_text=f"Blank: {item.default:g}.",
                )

    @property
    def plain(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if "-" not in name]

    @property
    def folded(self) -> list[tuple[str, list[forms.BoundField]]]:
        return [
            (words, [self[name] for name in self.fields if name.startswith(f"{group}-")])
            for group, _, words in self.GROUPS
        ]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for group, defaults, _ in self.GROUPS:
            prefix = f"{group}-"
            chosen = {
                name.removeprefix(prefix): value
                for name, value in cleaned.items()
                if name.startswith(prefix) and value is not None
            }
            try:
                read_record(defaults, chosen, group)
            except InputError as error:
                self.add_error(f"{prefix}{error.field.rpartition('.')[2]}", error.sentence)
            setattr(self.instance, group, chosen)
        return cleaned


UNITS_IN_NAMES = {"g": "g", "cm": "cm", "ml": "mL", "percent": "%"}


def _setting_words(item: dataclasses.Field[Any]) -> str:
    """The words a setting declares, or its name read as “uncertainty of … (unit)”."""
    if "words" in item.metadata:
        return f"{item.metadata['words'].capitalize()} ({item.metadata['unit']})"
    name, _, unit = item.name.rpartition("_")
    return f"Uncertainty of {name.replace('_', ' ')} ({UNITS_IN_NAMES.get(unit, unit)})"


class AccountForm(AnyModelForm):
    password = forms.CharField(
        required=False,
        strip=False,
        min_length=8,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="Leave blank to keep the present one.",
    )

    class Meta:
        model = Account
        fields = ["username", "name", "role", "group", "email", "is_active"]

    def clean_username(self) -> str:
        username: str = self.cleaned_data["username"]
        return username.strip().lower()

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("role") == Role.GROUP and not cleaned.get("group"):
            self.add_error("group", "A group’s sign-in needs its group.")
        if cleaned.get("role") != Role.GROUP and cleaned.get("group"):
            self.add_error("group", "Only a group’s sign-in belongs to a group: clear this.")
        if self.instance.pk is None and not cleaned.get("password"):
            self.add_error("password", "A new sign-in needs a password.")
        return cleaned

    def save(self, commit: bool = True) -> Account:
        account: Account = super().save(commit=False)
        if self.cleaned_data["password"]:
            account.set_password(self.cleaned_data["password"])
        return account


class ConfigurationForm(AnyModelForm):
    """A change of a bench, filled in from what it is now."""

    class Meta:
        model = BenchConfiguration
        fields = [
            "since",
            *BenchConfiguration.PARTS,
            "jacket_kind",
            "thermometer_step_k",
            "nominal_water_g",
            "bomb_volume_ml",
            "max_charge_g",
            "max_energy_kj",
            "max_oxygen_atm",
            "reason",
        ]
        widgets = {
            "since": forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")
        }

    def __init__(self, *args: Any, bench: Bench, **kwargs: Any) -> None:
        newest = bench.configurations.first()
        initial = forms.model_to_dict(newest) if newest else {}
        initial |= {"since": timezone.localtime(), "reason": ""}
        kwargs["initial"] = initial
        super().__init__(*args, **kwargs)
        self.instance.bench = bench

    def clean_since(self) -> Any:
        since = self.cleaned_data["since"]
        if since > clock.now():
            raise forms.ValidationError("A change is recorded once it has happened.")
        return since


@dataclass(frozen=True)
class SetupKind:
    """One kind of set-up record: its words, its form, the columns of its list."""

    key: str
    title: str
    explains: str
    model: type[Model]
    form: type[AnyModelForm]
    columns: tuple[str, ...]


def _form(model: type[Model], *, without: tuple[str, ...] = (), **widgets: Any) -> Any:
    return forms.modelform_factory(
        model, exclude=without, widgets=widgets, fields=None if without else "__all__"
    )


KINDS = (
    SetupKind("benches", "Benches", "Each place where a calorimeter stands.",
              Bench, _form(Bench, without=("in_service",)), ("code", "place", "in_service")),
    SetupKind("parts", "Parts", "Vessels, heads, buckets, stirrers, thermometers, jackets.",
              Part, _form(Part), ("kind", "serial", "remark")),
    SetupKind("service-plans", "Service plans", "What is done every so many firings or days.",
              ServicePlan, _form(ServicePlan),
              ("words", "part_kind", "part", "every_firings", "every_days", "in_use")),
    SetupKind("methods", "Methods", "How a course reduces its runs; a change is a new version.",
              Method, MethodForm,
              ("name", "version", "rise_method", "made_at")),
    SetupKind("terms", "Terms", "When a course runs, and by which method.",
              Term, _form(Term, starts=DateInput(), ends=DateInput()),
              ("name", "starts", "ends", "method", "is_practice")),
    SetupKind("sections", "Sections", "The classes of a term and their TAs.",
              Section, _form(Section), ("term", "name", "meets")),
    SetupKind("groups", "Groups", "Groups of a section and the bench each is booked on.",
              Group, _form(Group), ("section", "code", "bench")),
    SetupKind("people", "People", "Students, as they appear on run sheets.",
              Person, _form(Person), ("name", "student_number")),
    SetupKind("members", "Members", "Who is in which group, from when to when.",
              Membership, _form(Membership, since=DateInput(), until=DateInput()),
              ("group", "person", "since", "until")),
    SetupKind("sign-ins", "Sign-ins", "One for each group, TA and coordinator.",
              Account, AccountForm, ("username", "name", "role", "group", "is_active")),
    SetupKind("substances", "Substances", "Formulas and literature values with their citation.",
              Substance, SubstanceForm, ("name", "formula", "literature_dch_kj_per_mol")),
    SetupKind("samples", "Samples", "Labelled vials and what is in them.",
              Sample, _form(Sample), ("term", "label", "substance", "max_charge_g")),
    SetupKind("standard-lots", "Lots of the standard", "Certificates of the standard substance.",
              StandardLot, _form(StandardLot),
              ("code", "substance", "value_j_per_g", "basis", "in_use")),
    SetupKind("fuse-lots", "Lots of fuse wire", "Heat of the wire, by length or by mass.",
              FuseLot, _form(FuseLot), ("code", "material", "basis", "value", "in_use")),
    SetupKind("titrant-lots", "Lots of titrant", "Concentration of the base for the washings.",
              TitrantLot, _form(TitrantLot), ("code", "solute", "mol_per_l", "in_use")),
    SetupKind("aid-lots", "Combustion aids", "Capsules, oil and other aids, by your own blanks.",
              AidLot, _form(AidLot), ("code", "material", "j_per_g", "in_use")),
)  # fmt: skip
BY_KEY = {kind.key: kind for kind in KINDS}

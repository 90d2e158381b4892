"""The set-up forms that ask for more than their record's fields."""

from __future__ import annotations

import dataclasses
from typing import Any

from django import forms
from django.contrib.auth.password_validation import CommonPasswordValidator
from django.utils import timezone

from reduction.combustion import parse_formula
from reduction.errors import InputError, ReductionError
from reduction.notes import Thresholds
from reduction.records import read_record
from reduction.uncertainties import InputUncertainties

from .. import clock
from ..models import (
    Account,
    Bench,
    BenchConfiguration,
    Method,
    Role,
    Sample,
    Section,
    ServicePlan,
    Substance,
)
from ..problems.samples import with_label
from .plain_words import NUMBER_EXPECTED, PlainModelForm


class DateInput(forms.DateInput):
    """A browser shows a date only when it is given in ISO form."""

    input_type = "date"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs, format="%Y-%m-%d")


class SectionForm(PlainModelForm):
    class Meta:
        model = Section
        fields = "__all__"
        widgets = {"assistants": forms.CheckboxSelectMultiple()}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not Account.objects.filter(role=Role.ASSISTANT).exists():
            assistants = self.fields["assistants"]
            assistants.help_text = (
                "No TA has a sign-in yet. Make theirs first, or save the section now and come back."
            )


class ServicePlanForm(PlainModelForm):
    class Meta:
        model = ServicePlan
        fields = "__all__"

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if not cleaned.get("part_kind") and not cleaned.get("part") and not self.errors:
            self.add_error("part_kind", "Say what it is for: a kind of part, or one part below.")
        return cleaned


class SubstanceForm(PlainModelForm):
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


class SampleForm(PlainModelForm):
    """A vial. What is in it stands once it was revealed, and its label must not tell."""

    class Meta:
        model = Sample
        fields = "__all__"
        widgets = {"reveal_on": DateInput()}
        help_texts = {
            "max_charge_g": "Until the reveal every group of the term is told, and held to, the "
            "smallest of the term’s samples: their own would sort the vials by what they release.",
        }

    def clean_substance(self) -> Substance:
        substance: Substance = self.cleaned_data["substance"]
        if not self.instance.is_hidden and substance.pk != self.initial["substance"]:
            raise forms.ValidationError("This sample is revealed: what is in it stays as told.")
        return substance

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if {"label", "substance", "term"} <= cleaned.keys():
            named = ("label", "substance", "term", "lot")
            held = Sample(pk=self.instance.pk, **{key: cleaned.get(key) or "" for key in named})
            for problem in with_label(held):
                self.add_error(problem.field, problem.sentence)
        return cleaned


class MethodForm(PlainModelForm):
    """A method with one field for each default of the reduction that a course may set."""

    GROUPS = (
        ("input_uncertainties", InputUncertainties, "Uncertainties of what is typed in"),
        ("thresholds", Thresholds, "When a note is worth making"),
    )

    class Meta:
        model = Method
        exclude = ("version", "made_by", "made_at", "input_uncertainties", "thresholds")
        widgets = {"firing_checklist": forms.Textarea(attrs={"rows": 9})}

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
                    error_messages={"invalid": NUMBER_EXPECTED},
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


class AccountForm(PlainModelForm):
    password = forms.CharField(
        required=False,
        strip=False,
        min_length=8,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="8 characters or more. Left blank, the present one stays.",
    )

    class Meta:
        model = Account
        fields = ["username", "name", "role", "group", "email", "campus_name", "is_active"]

    def clean_username(self) -> str:
        username: str = self.cleaned_data["username"]
        return username.strip().lower()

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        if password:
            try:
                CommonPasswordValidator().validate(password)
            except forms.ValidationError as error:
                sentence = "This password is among the first ones guessed. Choose another."
                raise forms.ValidationError(sentence) from error
        return password

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("role") == Role.GROUP and not cleaned.get("group"):
            self.add_error("group", "A group’s sign-in needs its group.")
        if cleaned.get("role") != Role.GROUP and cleaned.get("group"):
            self.add_error("group", "Only a group’s sign-in belongs to a group: clear this.")
        if self.instance.pk is None and cleaned.get("password") == "":
            self.add_error("password", "A new sign-in needs a password.")
        return cleaned

    def save(self, commit: bool = True) -> Account:
        account: Account = super().save(commit=False)
        if self.cleaned_data["password"]:
            account.set_password(self.cleaned_data["password"])
        return account


class ConfigurationForm(PlainModelForm):
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

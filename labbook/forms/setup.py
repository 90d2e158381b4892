"""The kinds of records a coordinator sets up, in the order a new laboratory needs them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.db.models import Model

from ..models import (
    Account,
    AidLot,
    Bench,
    Descriptor,
    FuseLot,
    Group,
    MarkScheme,
    Membership,
    Method,
    Part,
    Person,
    Sample,
    Section,
    ServicePlan,
    StandardLot,
    Substance,
    Term,
    TitrantLot,
)
from .marking import DescriptorForm
from .plain_words import AnyModelForm, PlainModelForm
from .setup_forms import (
    AccountForm,
    DateInput,
    MethodForm,
    SampleForm,
    SectionForm,
    ServicePlanForm,
    SubstanceForm,
)


@dataclass(frozen=True)
class SetupKind:
    """One kind of set-up record: its words, its form, the columns of its list.

    ``after`` names the kinds that must be there first; ``may_wait`` those no first run needs;
    ``page`` the address of a record's own page, where it has one beside its form.
    """

    key: str
    title: str
    explains: str
    model: type[Model]
    form: type[AnyModelForm]
    columns: tuple[str, ...]
    after: tuple[str, ...] = ()
    may_wait: bool = False
    page: str = ""


def _form(model: type[Model], *, without: tuple[str, ...] = (), **widgets: Any) -> Any:
    return forms.modelform_factory(
        model,
        form=PlainModelForm,
        exclude=without,
        widgets=widgets,
        fields=None if without else "__all__",
    )


KINDS = (
    SetupKind("parts", "Parts", "Vessels, heads, buckets, stirrers, thermometers, jackets.",
              Part, _form(Part), ("kind", "serial", "remark")),
    SetupKind("benches", "Benches",
              "Each place where a calorimeter stands. What a bench is made of, and its limits, are "
              "recorded on the bench’s own page.",
              Bench, _form(Bench, without=("in_service",)), ("code", "place", "in_service"),
              after=("parts",)),
    SetupKind("service-plans", "Service plans", "What is done every so many firings or days.",
              ServicePlan, ServicePlanForm,
              ("words", "part_kind", "part", "every_firings", "every_days", "in_use"),
              may_wait=True),
    SetupKind("substances", "Substances", "Formulas and literature values with their citation.",
              Substance, SubstanceForm, ("name", "formula", "literature_dch_kj_per_mol")),
    SetupKind("standard-lots", "Lots of the standard", "Certificates of the standard substance.",
              StandardLot, _form(StandardLot),
              ("code", "substance", "value_j_per_g", "basis", "in_use"), after=("substances",)),
    SetupKind("fuse-lots", "Lots of fuse wire", "Heat of the wire, by length or by mass.",
              FuseLot, _form(FuseLot), ("code", "material", "basis", "value", "in_use")),
    SetupKind("titrant-lots", "Lots of titrant", "Concentration of the base for the washings.",
              TitrantLot, _form(TitrantLot), ("code", "solute", "mol_per_l", "in_use"),
              may_wait=True),
    SetupKind("aid-lots", "Combustion aids", "Capsules, oil and other aids, by your own blanks.",
              AidLot, _form(AidLot), ("code", "material", "j_per_g", "in_use"), may_wait=True),
    SetupKind("methods", "Methods", "How a course reduces its runs; a change is a new version.",
              Method, MethodForm,
              ("name", "version", "rise_method", "made_at")),
    SetupKind("mark-schemes", "Mark schemes", "What hand-ins are looked at for, part by part.",
              MarkScheme, _form(MarkScheme), ("name", "is_blind"), may_wait=True,
              page="mark_scheme"),
    SetupKind("descriptors", "Descriptors",
              "Each thing a marker ticks, with its points. They are added on their scheme’s page.",
              Descriptor, DescriptorForm, ("scheme", "part", "words", "in_use"),
              after=("mark-schemes",), may_wait=True),
    SetupKind("terms", "Terms", "When a course runs, and by which method.",
              Term, _form(Term, starts=DateInput(), ends=DateInput(), names_until=DateInput(),
                          marks_until=DateInput()),
              ("name", "starts", "ends", "method", "is_practice"), after=("methods",)),
    SetupKind("sign-ins", "Sign-ins",
              "One for each TA and coordinator now; one for each group once the groups are here.",
              Account, AccountForm, ("username", "name", "role", "group", "is_active")),
    SetupKind("sections", "Sections", "The classes of a term and their TAs.",
              Section, SectionForm, ("term", "name", "meets"), after=("terms", "sign-ins")),
    SetupKind("groups", "Groups",
              "Groups of a section and the bench each is booked on. Each then needs its sign-in.",
              Group, _form(Group), ("section", "code", "bench"), after=("sections", "benches")),
    SetupKind("people", "People", "Students, as they appear on run sheets.",
              Person, _form(Person), ("name", "student_number")),
    SetupKind("members", "Members", "Who is in which group, from when to when.",
              Membership, _form(Membership, since=DateInput(), until=DateInput()),
              ("group", "person", "since", "until"), after=("groups", "people")),
    SetupKind("samples", "Samples", "Labelled vials and what is in them.",
              Sample, SampleForm,
              ("term", "label", "substance", "max_charge_g", "difficulty", "reveal_on"),
              after=("terms", "substances")),
)  # fmt: skip
BY_KEY = {kind.key: kind for kind in KINDS}

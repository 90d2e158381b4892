"""What is logged with a date of its own: a planned service, or something else in words."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms
from django.utils import timezone

from .. import clock
from ..access import may
from ..lookups.bench_log import plans_for
from ..models import Account, Bench, BenchConfiguration, BenchEvent, Part, ServicePlan

Kind = BenchEvent.Kind
LONGEST_WORDS = 400


class HappenedForm(forms.Form):
    at = forms.DateTimeField(
        label="When",
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
    )

    def __init__(self, *args: Any, bench: Bench, account: Account, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["at"].initial = timezone.localtime()
        self.bench, self.account = bench, account

    def clean_at(self) -> datetime:
        at: datetime = self.cleaned_data["at"]
        if at > clock.now():
            raise forms.ValidationError("This is still to come; log it once it has happened.")
        return at


class ServiceForm(HappenedForm):
    plan = forms.ModelChoiceField(ServicePlan.objects.none(), label="What was done")
    words = forms.CharField(max_length=LONGEST_WORDS, required=False, label="Remark")
    field_order = ["plan", "at", "words"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, auto_id="service-%s", **kwargs)
        plan = self.fields["plan"]
        assert isinstance(plan, forms.ModelChoiceField)
        plans = ServicePlan.objects.filter(pk__in=[row.pk for row in plans_for(self.bench)])
        plan.queryset, plan.empty_label = plans.select_related("part"), "choose"


class EntryForm(HappenedForm):
    kind = forms.ChoiceField(label="What it is")
    part = forms.ModelChoiceField(
        Part.objects.none(), required=False, empty_label="the bench as a whole", label="About"
    )
    words = forms.CharField(max_length=LONGEST_WORDS, label="In a few words")
    field_order = ["kind", "part", "at", "words"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, auto_id="entry-%s", **kwargs)
        kind, part = self.fields["kind"], self.fields["part"]
        assert isinstance(kind, forms.ChoiceField) and isinstance(part, forms.ModelChoiceField)
        kind.choices = [
            (Kind.REMARK, "a remark"),
            (Kind.SERVICE, "a service that no plan asks for"),
        ]
        if may(self.account, "change bench", self.bench):
            words = "thermometer recalibrated: ends the approval in force"
            kind.choices = [*kind.choices, (Kind.RECALIBRATED, words)]
        part.queryset = _parts_of(self.bench.configuration)


def _parts_of(configuration: BenchConfiguration | None) -> Any:
    if configuration is None:
        return Part.objects.none()
    names = [f"{name}_id" for name in BenchConfiguration.PARTS]
    return Part.objects.filter(pk__in=[getattr(configuration, name) for name in names])

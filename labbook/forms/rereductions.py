"""Which runs to reduce again, and why."""

from __future__ import annotations

from django import forms

from ..lookups.rereductions import SELECT_BY
from ..models import Bench, FuseLot, Method, Run, StandardLot, Term, TitrantLot


class RereductionForm(forms.Form):
    """Every choice left open takes in all; the reason is needed."""

    term = forms.ModelChoiceField(
        Term.objects, required=False, to_field_name="name", empty_label="all"
    )
    bench = forms.ModelChoiceField(
        Bench.objects, required=False, to_field_name="code", empty_label="all"
    )
    kind = forms.ChoiceField(choices=[("", "all"), *Run.Kind.choices], required=False)
    standard_lot = forms.ModelChoiceField(
        StandardLot.objects,
        required=False,
        to_field_name="code",
        empty_label="all",
        label="Lot of the standard",
    )
    fuse_lot = forms.ModelChoiceField(
        FuseLot.objects,
        required=False,
        to_field_name="code",
        empty_label="all",
        label="Lot of fuse wire",
    )
    titrant_lot = forms.ModelChoiceField(
        TitrantLot.objects,
        required=False,
        to_field_name="code",
        empty_label="all",
        label="Lot of titrant",
    )
    method = forms.ModelChoiceField(
        Method.objects,
        required=False,
        label="By the method",
        empty_label="the one each run has",
    )
    reason = forms.CharField(max_length=200, label="Why they are reduced again")

    def selection(self) -> dict[str, str]:
        return {name: self.data.get(name, "") for name in SELECT_BY if self.data.get(name)}

"""The form of the next term: its dates, and what of the last one comes along."""

from __future__ import annotations

from typing import Any

from django import forms

from ..lookups.terms import like_last
from ..models import Term
from .plain_words import PlainModelForm
from .setup_forms import DateInput


class NextTermForm(PlainModelForm):
    assistants = forms.BooleanField(label="With the TAs of each section", required=False)
    bookings = forms.BooleanField(label="With the bench each group is booked on", required=False)
    samples = forms.BooleanField(
        label="With the sample list",
        required=False,
        help_text="Sealed again, to be revealed as long after the start. Labels that former "
        "students know tell what is in a vial: leave it out and set up other labels then.",
    )

    class Meta:
        model = Term
        fields = [
            "name",
            "starts",
            "ends",
            "method",
            "ours_unlock",
            "mark_scheme",
            "names_until",
            "marks_until",
            "is_practice",
        ]
        widgets = dict.fromkeys(("starts", "ends", "names_until", "marks_until"), DateInput())

    def __init__(self, *args: Any, basis: Term, **kwargs: Any) -> None:
        following = like_last(basis)
        chosen = {"assistants": True, "bookings": True, "samples": False}
        kwargs["initial"] = forms.model_to_dict(following, self.Meta.fields) | chosen
        super().__init__(*args, **kwargs)

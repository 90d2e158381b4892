"""What of a heat-capacity history is shown: a term or dates, and which charts."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from django import forms
from django.utils import timezone
from django.utils.html import format_html_join
from django.utils.safestring import SafeString

from .. import clock
from ..lookups.history import EVER, REACH
from ..lookups.switches import CHARTS, OWN_EWMA
from ..models import Term

LATEST, ALL = "", "all"
LONGER = ((LATEST, "the last five years"), (ALL, "everything"))
AFTER_TODAY = timedelta(days=14)


class ShownForm(forms.Form):
    """Dates win over a term; nothing chosen shows the latest years."""

    term = forms.ChoiceField(required=False, label="Term")
    begins = forms.DateField(
        required=False, label="From", widget=forms.DateInput(attrs={"type": "date"})
    )
    ends = forms.DateField(
        required=False, label="Until", widget=forms.DateInput(attrs={"type": "date"})
    )
    charts = forms.MultipleChoiceField(
        required=False, choices=[*CHARTS.items(), (OWN_EWMA, OWN_EWMA)]
    )

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]  # handed on as they came
        terms = Term.objects.filter(is_practice=False)
        columns = terms.values_list("pk", "name", "starts", "ends", named=True)
        self.terms = {str(term.pk): term for term in columns}
        field = self.fields["term"]
        assert isinstance(field, forms.ChoiceField)
        named = [(key, term.name) for key, term in self.terms.items()]
        field.choices = [*LONGER, *named]

    def clean(self) -> dict[str, object]:
        chosen = super().clean() or self.cleaned_data
        begins, ends = chosen.get("begins"), chosen.get("ends")
        if begins and ends and ends < begins:
            self.add_error("ends", f"Until {ends:%-d %B %Y} is before the beginning. Swap them.")
        return chosen

    @property
    def dates(self) -> list[forms.BoundField]:
        return [self[name] for name in ("begins", "ends")]

    @property
    def term_options(self) -> SafeString:
        """Written in one go: Django renders a template for each of what may be hundreds."""
        chosen = self["term"].value() or LATEST
        named = [(key, term.name) for key, term in self.terms.items()]
        return format_html_join(
            "",
            '<option value="{}"{}>{}</option>',
            (
                (key, SafeString(" selected" if key == chosen else ""), words)
                for key, words in [*LONGER, *named]
            ),
        )

    @property
    def switched_on(self) -> list[str]:
        return self.cleaned_data.get("charts", []) if self.is_valid() else []

    @property
    def names_dates(self) -> bool:
        """Whether a term or a first day was asked for, which then begins the time axis."""
        chosen = self.cleaned_data if self.is_valid() else {}
        return bool(chosen.get("begins")) or chosen.get("term") in self.terms

    def range(self) -> tuple[datetime, datetime]:
        """From when until when; for a form with mistakes the latest years."""
        today = clock.today()
        begins, ends = today - REACH, today + AFTER_TODAY
        chosen = self.cleaned_data if self.is_valid() else {}
        term = self.terms.get(chosen.get("term", LATEST))
        if term is not None:
            begins, ends = term.starts, term.ends
        elif chosen.get("term") == ALL:
            begins = EVER.date()
        begins, ends = chosen.get("begins") or begins, chosen.get("ends") or ends
        return _at(begins, time.min), _at(ends, time.max)


def _at(day: date, moment: time) -> datetime:
    return datetime.combine(day, moment, tzinfo=timezone.get_current_timezone())

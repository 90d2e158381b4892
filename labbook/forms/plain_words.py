"""Forms that refuse in our own words, and whose lists begin with what to do."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, cast

from django import forms

if TYPE_CHECKING:
    AnyModelForm = forms.ModelForm[Any]
else:
    AnyModelForm = forms.ModelForm

CHOOSE, NONE = "choose…", "none"
NUMBER_EXPECTED = "A number was expected, such as 1.25."
EVERYWHERE = {
    "required": "This is needed: fill it in.",
    "invalid_choice": "This is not in the list. Choose one of those that are.",
    "max_length": "At most %(limit_value)d characters are kept; %(show_value)d were typed.",
    "min_length": "At least %(limit_value)d characters are needed; %(show_value)d were typed.",
    "min_value": "%(limit_value)s or more was expected; %(show_value)s was typed.",
    "max_value": "%(limit_value)s or less was expected; %(show_value)s was typed.",
    "max_digits": "At most %(max)s figures are kept. Round it.",
    "max_decimal_places": "At most %(max)s figures after the point are kept. Round it.",
    "max_whole_digits": "At most %(max)s figures before the point are kept. Check the unit.",
    "unique": "A %(model_name)s with this %(field_label)s already exists.",
}
INVALID: tuple[tuple[type[forms.Field], str], ...] = (
    (forms.SlugField, "Letters A to Z, figures, - and _ only: it stands in addresses."),
    (forms.IntegerField, "A whole number was expected, such as 12."),
    (forms.DecimalField, NUMBER_EXPECTED),
    (forms.FloatField, NUMBER_EXPECTED),
    (forms.DateTimeField, "A date and a time were expected."),
    (forms.DateField, "A date was expected, such as 2030-02-28."),
    (forms.EmailField, "An address with an @ was expected."),
)


class PlainModelForm(AnyModelForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.error_messages |= EVERYWHERE | _invalid(field)
            _begin_list(field)


def _invalid(field: forms.Field) -> dict[str, str]:
    """What is said of text that is none of the kind: the nearest kind's sentence."""
    kinds = [(kind, words) for kind, words in INVALID if isinstance(field, kind)]
    exact = [words for kind, words in kinds if type(field) is kind]
    words = exact or [words for _, words in kinds]
    return {"invalid": words[0]} if words else {}


def _begin_list(field: forms.Field) -> None:
    """“choose…” where something must be chosen, “none” where nothing may be."""
    if not isinstance(field, forms.ChoiceField) or isinstance(field, forms.MultipleChoiceField):
        return
    first = CHOOSE if field.required else NONE
    if isinstance(field, forms.ModelChoiceField):
        if field.empty_label is not None:
            field.empty_label = first
        return
    choices = list(cast("Iterable[tuple[str, str]]", field.choices))
    if choices and choices[0][0] == "":
        field.choices = [("", first), *choices[1:]]

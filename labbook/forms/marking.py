"""Mark schemes and their descriptors; what a marking page sends."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import QueryDict

from ..lookups.marking import marks_naming
from ..models import Descriptor
from .plain_words import PlainModelForm
from .whole_numbers import read_whole_number


class DescriptorForm(PlainModelForm):
    """What marks were given for stays as it was: a used descriptor can only be taken out of use."""

    FROZEN = ("scheme", "part", "words", "points")

    class Meta:
        model = Descriptor
        fields = ["scheme", "part", "words", "points", "order", "in_use"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        changed = [name for name in self.FROZEN if name in self.changed_data]
        if self.instance.pk and changed and (count := marks_naming(self.instance)):
            marks = "1 mark names" if count == 1 else f"{count} marks name"
            self.add_error(
                changed[0],
                f"{marks} this descriptor as it is. Take it out of use below, and add another.",
            )
        return cleaned


class NextDescriptorForm(PlainModelForm):
    """One more descriptor at the end of a scheme, by default below the same heading."""

    class Meta:
        model = Descriptor
        fields = ["part", "words", "points"]


@dataclass(frozen=True)
class SentMark:
    """What a marker ticked and wrote, as sent."""

    ticked: frozenset[int]
    remark: str
    seen: str
    counts: bool


def read_mark(sent: QueryDict) -> SentMark:
    """A tick that is no number is taken for a descriptor that there is not."""
    numbers = (read_whole_number(text) for text in sent.getlist("tick"))
    ticked = frozenset(0 if number is None else number for number in numbers)
    return SentMark(ticked, sent.get("remark", ""), sent.get("seen", ""), bool(sent.get("counts")))

"""The form a roster comes in: the file first, then the same file with what its preview said."""

from __future__ import annotations

import base64
import binascii
import hashlib
from typing import Any

from django import forms

from ..intake.rosters import MOST_BYTES, Roster, RosterUnreadable, read_roster
from ..lookups.roster_changes import USUAL_PLACES, Options
from .plain_words import EVERYWHERE

MOST_PLACES = 20


class RosterForm(forms.Form):
    """``kept`` is the file again, as the preview sent it back: the server keeps none of it."""

    file = forms.FileField(
        label="The roster",
        required=False,
        allow_empty_file=True,
        help_text="CSV with one student a line, or a zip in the OneRoster CSV standard.",
    )
    makes = forms.BooleanField(label="Make sections and groups that are missing", required=False)
    drops = forms.BooleanField(
        label="End the membership of students who are not on it", required=False
    )
    places = forms.IntegerField(
        label="Most students in a group", min_value=1, max_value=MOST_PLACES, initial=USUAL_PLACES,
        error_messages=EVERYWHERE | {"invalid": "A whole number was expected, such as 4."},
    )  # fmt: skip
    kept = forms.CharField(required=False, widget=forms.HiddenInput)
    name = forms.CharField(required=False, widget=forms.HiddenInput)

    roster: Roster
    content: bytes

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        file = cleaned.get("file")
        if file is not None and file.size > MOST_BYTES:
            self.add_error("file", "At most 2 MB are read. Export this course alone.")
            return cleaned
        if file is not None:
            self.content, cleaned["name"] = file.read(), file.name
        else:
            self.content = _unpacked(cleaned.get("kept", ""))
        if not self.content and file is None:
            self.add_error("file", "Choose the file first.")
            return cleaned
        try:
            self.roster = read_roster(self.content)
        except RosterUnreadable as unreadable:
            self.add_error("file", str(unreadable))
        return cleaned

    @property
    def options(self) -> Options:
        chosen = self.cleaned_data
        return Options(chosen["makes"], chosen["drops"], chosen["places"])

    @property
    def sha256(self) -> str:
        return hashlib.sha256(self.content).hexdigest()

    @property
    def packed(self) -> str:
        return base64.b64encode(self.content).decode()


def _unpacked(kept: str) -> bytes:
    try:
        return base64.b64decode(kept, validate=True)
    except (binascii.Error, ValueError):
        return b""

"""Why something may not happen yet, as a list: the page shows all, the action refuses on it."""

from .afternoons import Open, Said, left_open, said_by
from .completing import with_completing, with_putting_forward
from .entries import with_changing, with_entry
from .firing import with_firing
from .locks import LOCK_FIELDS, LOCK_WORDS, limits_exceeded
from .opening import with_opening, with_opening_unknown
from .refusals import Conflict, Doubled, Problem, Refused, check_length, refuse, refuse_if_blocked
from .sheet_notes import notes_on_sheet

__all__ = [
    "LOCK_FIELDS",
    "LOCK_WORDS",
    "Conflict",
    "Doubled",
    "Open",
    "Problem",
    "Refused",
    "Said",
    "check_length",
    "left_open",
    "limits_exceeded",
    "notes_on_sheet",
    "refuse",
    "refuse_if_blocked",
    "said_by",
    "with_changing",
    "with_completing",
    "with_entry",
    "with_firing",
    "with_opening",
    "with_opening_unknown",
    "with_putting_forward",
]

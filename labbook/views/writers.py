"""Who of the group is writing at this PC just now, remembered in the session."""

from __future__ import annotations

from ..models import Person, Run
from ..requests import SignedIn

KEY, TICKER = "writer", "ticker"


def writer_of(request: SignedIn, run: Run) -> Person | None:
    """The person chosen on this PC, as long as they are present in the run."""
    chosen = request.session.get(KEY)
    return run.present.filter(pk=chosen).first() if chosen else None


def choose_writer(request: SignedIn, person: Person) -> None:
    request.session[KEY] = person.pk


def ticker_of(request: SignedIn, run: Run) -> Person | None:
    """Who goes through the checklist: the person chosen for it, else the one who is writing."""
    chosen = request.session.get(TICKER)
    named = run.present.filter(pk=chosen).first() if chosen else None
    return named or writer_of(request, run)


def choose_ticker(request: SignedIn, person: Person) -> None:
    request.session[TICKER] = person.pk

"""What the runs of an afternoon give reason to say, and what is still open at its end."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.utils import timezone

from .. import clock
from ..lookups.afternoons import GOING_ON, Place, places_of
from ..lookups.around_firing import Answers, answers_to, with_happenings
from ..lookups.attendance import seats_of
from ..lookups.predictions import UsualCapacities
from ..lookups.same_masses import SectionsMasses
from ..lookups.sheets import Sheet, sheets_of
from ..models import Run, Section
from .firing import with_leaks
from .locks import limits_exceeded
from .refusals import Problem
from .sheet_notes import notes_on_sheet


@dataclass(frozen=True)
class Said:
    """What one run says: what stops it, what asks to be looked at, how much is not answered."""

    stops: list[Problem]
    checks: list[Problem]
    unanswered: int

    @property
    def locked(self) -> list[Problem]:
        """The limits a TA may unlock."""
        return [problem for problem in self.stops if problem.lock]

    @property
    def unlocked_stops(self) -> list[Problem]:
        return [problem for problem in self.stops if not problem.lock]


def said_by(section: Section, runs: Iterable[Run]) -> dict[int, Said]:
    """By run what it says; the queries do not grow with the runs."""
    runs = with_happenings(run for run in runs if run.state != Run.State.SET_ASIDE)
    if not runs:
        return {}
    answers, masses = answers_to(runs), SectionsMasses(section.pk)
    capacities = UsualCapacities(run.bench for run in runs)
    found = {}
    for sheet in sheets_of(runs):
        asked = notes_on_sheet(sheet.run, sheet, masses, capacities)
        found[sheet.run.pk] = _said(sheet, asked, answers[sheet.run.pk])
    return found


def _said(sheet: Sheet, asked: list[Problem], answers: Answers) -> Said:
    run = sheet.run
    stops = (
        [*with_leaks(run, sheet), *limits_exceeded(run, sheet)]
        if run.state == Run.State.OPEN
        else []
    )
    told = {note.code for note in asked}
    noticed = [note for note in _noticed(run) if note.code not in told]
    open_notes = [n for n in asked if n.answers and (n.code, n.sentence) not in answers]
    return Said(
        stops + [note for note in noticed if note.severity == "B"],
        asked + [note for note in noticed if note.severity == "W"],
        len(open_notes),
    )


def _noticed(run: Run) -> list[Problem]:
    """What the reduction noticed in the readings."""
    notes = run.result.outputs.get("notes", []) if run.result else []
    return [Problem(note["code"], note["severity"], note["sentence"]) for note in notes]


@dataclass(frozen=True)
class Open:
    """Something not settled, in words; ``about`` and ``key`` name the record: a run's number …"""

    words: str
    about: str = ""
    key: str = ""

    def as_dict(self) -> dict[str, Any]:
        return {"words": self.words, "about": self.about, "key": self.key}


def left_open(section: Section) -> list[Open]:
    """What a section's afternoon leaves to whoever comes next; unsigned sheets first."""
    places = places_of(section)
    runs = [run for place in places for run in place.runs]
    said = said_by(section, runs)
    return [
        *(_run(run, said) for run in runs if run.state == Run.State.COMPLETE),
        *(_run(run, said) for run in runs if run.state in GOING_ON),
        *(item for place in places for item in _of_place(place)),
        *_not_marked(section),
    ]


def _run(run: Run, said: dict[int, Said]) -> Open:
    words, count = _how_far(run), said[run.pk].unanswered
    if count:
        words += f"; {count} note{'' if count == 1 else 's'} not answered"
    return Open(f"{run.group}, {run.bench.code}: {run} {words}", "run", str(run.pk))


def _how_far(run: Run) -> str:
    if run.state == Run.State.COMPLETE:
        return "is complete and not signed"
    if run.fired_at:
        return f"was fired {_when(run.fired_at)} and is not complete"
    return f"is open since {_when(run.opened_at)}"


def _when(moment: Any) -> str:
    return f"{timezone.localtime(moment):%-d %B, %H:%M}"


def _of_place(place: Place) -> list[Open]:
    bench = place.group.bench
    found = [
        Open(f"{one} (group {place.group}) waits for a decision", "standardization", str(one.pk))
        for one in place.put_forward
    ]
    if bench is None:
        return found
    if not bench.in_service:
        found.append(Open(f"{bench} is out of service", "bench", bench.code))
    if place.faults:
        many = "an open fault" if place.faults == 1 else f"{place.faults} open faults"
        found.append(Open(f"{bench} has {many}", "bench", bench.code))
    if place.is_released is False:
        found.append(Open(f"{bench} was not released: {place.why}", "bench", bench.code))
    return found


def _not_marked(section: Section) -> list[Open]:
    """In number, not by name: a handover outlasts the names."""
    seats = [seat for _, seats in seats_of(section, clock.today()) for seat in seats]
    count = sum(seat.mark is None for seat in seats)
    if not count:
        return []
    many = "1 person is" if count == 1 else f"{count} people are"
    return [Open(f"{many} not marked as present or absent", "attendance")]

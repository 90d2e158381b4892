"""Building the demonstration laboratory, whole or not at all."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta

from django.db import transaction

from .. import clock
from ..models import Unlock
from .afternoons import begin, spend
from .bench_log import keep_log
from .course_dates import TermDates, Visit, at_local, term_dates, visits_of
from .laboratory import Laboratory, change_lot, change_part, found_laboratory
from .marking import hand_in_and_mark
from .present import hold_class
from .scenario import Plan, Scenario
from .terms import RunningTerm, begin_term, end_term, reveal_samples

SET_UP_BEFORE = timedelta(days=21)
MORNING, EVENING = time(9, 0), time(18, 0)


@dataclass(frozen=True)
class Slot:
    """One group's place on one afternoon; ``number`` counts them all from 1."""

    number: int
    visit: Visit
    place: int


Follow = Callable[[Sequence[Slot]], Iterable[Slot]]


def plan_slots(plan: Plan, dates: list[TermDates]) -> list[Slot]:
    places = [
        (visit, place)
        for index, term in enumerate(dates)
        for visit in visits_of(index, term.middle, plan.visits)
        for place in range(plan.groups)
    ]
    return [Slot(number, *where) for number, where in enumerate(places, start=1)]


@transaction.atomic
def build(plan: Plan, now: datetime, follow: Follow = iter) -> None:
    """Write everything in one transaction; ``follow`` is handed the slots to show progress."""
    builder = Builder(plan, now)
    for slot in follow(builder.slots):
        builder.fill(slot)
    builder.reveal_one()
    builder.hand_in_first()
    keep_log(builder.laboratory, now)


class Builder:
    """Goes through the terms in order, from the first afternoon to the one going on now."""

    def __init__(self, plan: Plan, now: datetime) -> None:
        self.plan, self.now = plan, now
        with clock.at(now):
            self.today = clock.today()
        self.dates = term_dates(plan.terms, self.today)
        self.slots = plan_slots(plan, self.dates)
        started = at_local(self.dates[0].starts - SET_UP_BEFORE, MORNING)
        with clock.at(started):
            self.laboratory: Laboratory = found_laboratory(Scenario(), started)
        self.running: RunningTerm | None = None
        self.term = -1
        self.halfway = self.slots[len(self.slots) // 2].visit

    def fill(self, slot: Slot) -> None:
        if slot.visit.term != self.term:
            self._turn_to_term(slot.visit.term)
        if slot.visit == self.halfway and slot.place == 0:
            self._renew()
        assert self.running is not None
        if slot.visit.section == 1 and slot.visit.day == self.today:
            hold_class(self.laboratory, self.running, slot.place, slot.number, self.now)
            return
        team = self.running.sections[slot.visit.section][slot.place]
        starts = slot.visit.starts
        with clock.at(starts):
            work = begin(self.laboratory, team, slot.number, starts, self.now)
        spend(work, self.running.samples)

    def _renew(self) -> None:
        """Half way, on the day before: a part of one bench and the lot of the standard."""
        moment = at_local(self.halfway.day - timedelta(days=1), MORNING)
        with clock.at(moment):
            change_part(self.laboratory, moment)
            change_lot(self.laboratory)

    def _turn_to_term(self, index: int) -> None:
        if self.running is not None:
            with clock.at(at_local(self.dates[self.term].ends, EVENING)):
                reveal_samples(self.laboratory, self.running.samples)
                end_term(self.laboratory, self.running)
        self.term, dates = index, self.dates[index]
        with clock.at(at_local(dates.starts, MORNING)):
            # The course took to hand figures with the term going on now.
            ours = Unlock.HAND_FIGURES if index == self.plan.terms - 1 else Unlock.AT_ONCE
            self.running = begin_term(self.laboratory, index, dates, self.plan.groups, ours)

    def reveal_one(self) -> None:
        """In the term going on, one vial is revealed already."""
        assert self.running is not None
        with clock.at(self.now):
            reveal_samples(self.laboratory, self.running.samples[:1])

    def hand_in_first(self) -> None:
        assert self.running is not None
        hand_in_and_mark(self.laboratory, self.running, self.now)

"""The afternoon that is going on now: each group of the section is at another point of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

from ..actions.afternoons import mark_attendance, prepare_bench
from ..actions.runs import open_standardization_run, open_unknown_run
from ..actions.standardizations import put_forward
from ..cautions import PREPARATION
from ..models import Attendance, Sample
from .afternoons import (
    Work,
    begin,
    burn_standard,
    burn_unknown,
    draw_standard,
    draw_unknown,
    give,
    have_approved,
    sign_all,
    standard_lot,
    standardize,
)
from .burns import Burn
from .hands import prepare, type_readings
from .laboratory import Laboratory
from .terms import RunningTerm

FORE_TYPED_S = 240.0


def is_midway(work: Work, sample: Sample) -> None:
    """Two runs complete; the third open, its sheet partly filled, fore readings typed."""
    burn_standard(work, 0)
    work.by_hand = False  # the second is still to be worked, on squared paper
    burn_standard(work, 1)
    work.kind = replace(work.kind, is_typed=True)
    run = work.hand.do(open_standardization_run, work.bench)
    burn = draw_standard(work)
    written = _without(burn, "oxygen_atm", "leak_check", "jacket_c")
    prepare(work.hand, run, standard_lot(work) | written)
    type_readings(work.hand, run, burn, 0.0, FORE_TYPED_S)


def _without(burn: Burn, *left_blank: str) -> dict[str, str]:
    return {key: text for key, text in burn.before.items() if key not in left_blank}


def is_on_its_unknown(work: Work, sample: Sample) -> None:
    have_approved(work, standardize(work, 3))
    sign_all(work)
    run = work.hand.do(open_unknown_run, work.bench, sample)
    written = _without(draw_unknown(work, sample), "bucket_gross_g", "bucket_tare_g", "jacket_c")
    prepare(work.hand, run, written)


def is_waiting(work: Work, sample: Sample) -> None:
    standardization = standardize(work, 3)
    work.hand.wait(minutes=3)
    work.hand.do(put_forward, standardization)


def has_finished(work: Work, sample: Sample) -> None:
    have_approved(work, standardize(work, 3))
    sign_all(work)
    burn_unknown(work, sample)


def _receive(work: Work) -> None:
    """The TA has the bench ready and notes who of the group came."""
    team, present = work.hand.team, work.hand.present
    came = {
        person.pk: Attendance.Came.PRESENT if person in present else Attendance.Came.ABSENT
        for person in team.members
    }
    section = team.group.section
    work.hand.ask(prepare_bench, section, work.bench, list(PREPARATION), release=True)
    work.hand.ask(mark_attendance, section, came)


# How long ago each group began, so that what it is doing happens about now, and its vial.
COURSES = (
    (is_midway, timedelta(minutes=104), 3),
    (is_on_its_unknown, timedelta(minutes=160), 1),
    (is_waiting, timedelta(minutes=150), 4),
    (has_finished, timedelta(minutes=210), 2),
)


def hold_class(
    laboratory: Laboratory, running: RunningTerm, place: int, number: int, now: datetime
) -> None:
    """Let the group at this place of section M come to where it is now."""
    take_course, began_ago, vial = COURSES[place % len(COURSES)]
    team = running.sections[-1][place]
    work = begin(laboratory, team, number, now - began_ago, now)
    _receive(work)
    give(work, running.samples[vial])
    take_course(work, running.samples[vial])

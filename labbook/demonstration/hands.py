"""A group's hand at the bench: it acts through the same actions as the pages, in its own time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import numpy as np

from .. import clock
from ..actions.around_firing import answer_note, tick_item
from ..actions.files import keep_file, use_file
from ..actions.readings import strike_readings
from ..actions.runs import complete_run, mark_fired
from ..actions.sheets import enter_figure, note_presence
from ..actions.typed_readings import add_typed_reading
from ..intake import preview
from ..lookups.around_firing import checklist_words
from ..lookups.sheets import Sheet
from ..models import NoteAnswer, Person, Run
from ..problems import notes_on_sheet
from .burns import FIRED_AT_S, Burn
from .logger_files import logger_file
from .terms import Team


@dataclass(frozen=True)
class Slip:
    """A figure written wrong at first. Set right at once, or only when somebody notices."""

    field: str
    by: str
    reason: str
    at_once: bool = True

    def written(self, text: str) -> str:
        return misread(text, self.by)


@dataclass
class Hand:
    team: Team
    present: list[Person]
    rng: np.random.Generator
    moment: datetime
    latest: datetime

    def wait(self, **span: float) -> None:
        self.moment = min(self.moment + timedelta(**span), self.latest)

    def do(self, action: Callable[..., Any], *subject: Any, **rest: Any) -> Any:
        """Act as the group, at the moment it is there."""
        with clock.at(self.moment):
            return action(*subject, by=self.team.account, **rest)

    def ask(self, action: Callable[..., Any], *subject: Any, **rest: Any) -> Any:
        """Let the section's TA act."""
        with clock.at(self.moment):
            return action(*subject, by=self.team.assistant, **rest)

    @property
    def writer(self) -> Person:
        return self.present[0]


def misread(text: str, by: str) -> str:
    """A figure so much too high, with its own number of digits."""
    return str(Decimal(text) + Decimal(by))


def write(hand: Hand, run: Run, figures: dict[str, str], slip: Slip | None = None) -> None:
    for key, text in figures.items():
        hand.wait(seconds=hand.rng.uniform(10, 55))
        if slip is None or slip.field != key:
            hand.do(enter_figure, run, key, text, entered_by=hand.writer)
            continue
        hand.do(enter_figure, run, key, slip.written(text), entered_by=hand.writer)
        if slip.at_once:
            correct(hand, run, key, text, slip.reason)


def correct(hand: Hand, run: Run, key: str, text: str, reason: str) -> None:
    hand.wait(seconds=40)
    hand.do(enter_figure, run, key, text, entered_by=hand.writer, reason=reason)


def prepare(hand: Hand, run: Run, figures: dict[str, str], slip: Slip | None = None) -> None:
    """Say who is there and write down the figures up to the firing."""
    if not run.present.exists():
        hand.do(note_presence, run, hand.present)
    write(hand, run, figures, slip)
    confirm_certificate(hand, run)


def confirm_certificate(hand: Hand, run: Run) -> None:
    """Answer, once a group, whether the certificate's mass is that in vacuum."""
    if NoteAnswer.objects.filter(run__group=run.group_id).exists():
        return
    run = Run.objects.get(pk=run.pk)
    for note in notes_on_sheet(run, Sheet(run)):
        if note.code == "certificate_basis":
            hand.do(
                answer_note, run, note.code, NoteAnswer.Answer.AS_IT_IS,
                sentence=note.sentence, entered_by=hand.writer,
            )  # fmt: skip


def tick(hand: Hand, run: Run) -> None:
    """One of those present goes through the checklist before firing."""
    for number in range(len(checklist_words(run))):
        hand.wait(seconds=6)
        hand.do(tick_item, run, number, hand.writer)


def fire(hand: Hand, run: Run, burn: Burn) -> Run:
    fired: Run = hand.do(mark_fired, run, burn.fired_at, entered_by=hand.writer)
    return fired


def type_readings(
    hand: Hand, run: Run, burn: Burn, begin_s: float, end_s: float, slip_at: int | None = None
) -> None:
    """Type the readings of a stretch as they are read, the one at ``slip_at`` wrong at first."""
    last = begin_s
    for count, (time, text) in enumerate(burn.rows()):
        if not begin_s <= time < end_s:
            continue
        hand.wait(seconds=time - last)
        last = time
        if count == slip_at:
            _mistype(hand, run, f"{time:g}", text)
        hand.do(add_typed_reading, run, f"{time:g}", text, entered_by=hand.writer)


def _mistype(hand: Hand, run: Run, time: str, text: str) -> None:
    wrong = misread(text, "10")
    number = hand.do(add_typed_reading, run, time, wrong, entered_by=hand.writer).number
    reason = f"mistyped: read {text}"
    hand.do(strike_readings, run, number, number, reason, entered_by=hand.writer)


def hand_in_file(hand: Hand, run: Run, burn: Burn, dialect: int, started: datetime) -> None:
    name, content = logger_file(dialect, burn.rows(), started)
    file = hand.do(keep_file, run, name, content)
    hand.do(use_file, file, preview(content), entered_by=hand.writer)


def burn_typed(
    hand: Hand, run: Run, burn: Burn, slip: Slip | None, slip_at: int | None = None
) -> Run:
    """Fire and type the readings, then finish the sheet."""
    type_readings(hand, run, burn, 0.0, FIRED_AT_S, slip_at)
    hand.wait(seconds=30)
    run = fire(hand, run, burn)
    type_readings(hand, run, burn, FIRED_AT_S, float("inf"))
    write(hand, run, burn.after, slip)
    return complete(hand, run)


def burn_logged(hand: Hand, run: Run, burn: Burn, slip: Slip | None, dialect: int) -> Run:
    """Fire, finish the sheet, then hand in the logger's file."""
    started = hand.moment
    hand.wait(seconds=FIRED_AT_S)
    run = fire(hand, run, burn)
    hand.wait(seconds=burn.times_s[-1] - FIRED_AT_S)
    write(hand, run, burn.after, slip)
    hand.wait(seconds=60)
    hand_in_file(hand, run, burn, dialect, started)
    return complete(hand, run)


def complete(hand: Hand, run: Run) -> Run:
    hand.wait(seconds=30)
    completed: Run = hand.do(complete_run, run)
    return completed


def absent_one(people: list[Person], rng: np.random.Generator) -> list[Person]:
    """Who of a group is there: now and then one is not, and the pen goes round."""
    shuffled = [people[i] for i in rng.permutation(len(people))]
    return shuffled[:-1] if rng.uniform() < 0.12 else shuffled

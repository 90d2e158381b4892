"""Readings typed at the bench: each kept by itself, asked about where another stands already."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction

from reduction.notes import Note, Thresholds
from reduction.remarks.newest import note_on_newest

from .. import clock
from ..access import require
from ..intake.figures import Ambiguous, NotANumber, read_figure, read_moment
from ..lookups.readings import Readings, readings_of
from ..lookups.sheets import Sheet
from ..lookups.typed_readings import Standing, reading_sent_before, standing_at
from ..models import Account, Person, ReadingBlock, Run
from ..problems import Doubled, refuse
from .decisions import hold
from .readings import keep_readings, refuse_when_finished, strike_out
from .reductions import reduce_if_readings_stand
from .runs import mark_fired
from .sheets import check_present, enter_figure

WARMEST_C, COLDEST_C = 60, -10
LONGEST_RUN_S = 7 * 86400
BUCKETS_C = (5, 60)
"""Where the temperature of a bucket is expected: tells 23,169 from twenty-three thousand."""


@dataclass(frozen=True)
class Sent:
    """How a reading came: the page's key for it, how long ago, and what was answered about it."""

    page_key: str = ""
    waited: timedelta = timedelta(0)
    beside: bool = False
    instead_of: int | None = None


@dataclass(frozen=True)
class Kept:
    """A typed reading that is on disk; ``note`` is what there is to ask about it."""

    number: int
    at: datetime
    note: Note | None = None


@transaction.atomic
def add_typed_reading(
    run: Run,
    time: str,
    temperature: str,
    *,
    by: Account,
    entered_by: Person | None = None,
    sent: Sent = Sent(),
) -> Kept:
    """Keep one typed reading. It is on disk when this returns.

    The same key again is the same reading. Where another reading stands at that time Doubled is
    raised, unless it was answered: both are to be kept, or the one is to be struck out.
    """
    require(by, "fill in sheet", run)
    run = hold(run)
    known = reading_sent_before(run, sent.page_key)
    if known is not None:
        return Kept(known.first_number, known.at)
    refuse_when_finished(run)
    check_present(run, entered_by)
    time_s, temperature_c = _moment(time), _temperature(temperature)
    if sent.instead_of is not None:
        reason = f"mistyped: read {temperature.strip()}"[:200]
        _strike_one(run, sent.instead_of, reason, by=by, entered_by=entered_by)
    before = readings_of(run)
    standing = None if sent.beside else standing_at(run, before, time_s)
    if standing is not None:
        return _as_it_stands(standing, temperature_c, temperature)
    block = keep_readings(
        run, [time_s], [temperature_c], [_detail(time, temperature, by, entered_by, sent)],
        ReadingBlock.Source.TYPED, by, page_key=sent.page_key,
    )  # fmt: skip
    _set_clock(run, time_s, sent.waited)
    if sent.instead_of is not None:
        reduce_if_readings_stand(run, by=by, reason=f"reading {sent.instead_of} corrected")
    return Kept(block.first_number, block.at, _note(run, before, time_s, temperature_c))


def _as_it_stands(standing: Standing, temperature_c: float, typed: str) -> Kept:
    """The reading that is there already, when it is the same one; otherwise it is asked about."""
    if standing.temperature_c != temperature_c:
        raise Doubled(standing, typed.strip())
    return Kept(standing.number, standing.at)


def _moment(text: str) -> float:
    try:
        return float(read_moment(text))
    except (Ambiguous, NotANumber) as error:
        raise refuse("time", str(error), "time") from error


def _temperature(text: str) -> float:
    """The bucket's temperature. One comma before three digits is asked about when in doubt."""
    try:
        value = float(read_figure(text).value)
    except Ambiguous as error:
        value = float(error.readings[0])
        if not BUCKETS_C[0] <= value <= BUCKETS_C[1]:
            raise refuse("temperature", str(error), "temperature") from error
    except NotANumber as error:
        raise refuse("temperature", str(error), "temperature") from error
    if not COLDEST_C <= value <= WARMEST_C:
        sentence = (
            f"{text.strip()} °C was typed; a bucket temperature from −10 to {WARMEST_C} °C "
            "was expected. Check the decimal mark."
        )
        raise refuse("temperature", sentence, "temperature")
    return value


def _strike_one(
    run: Run, number: int, reason: str, *, by: Account, entered_by: Person | None
) -> None:
    """Strike a reading out, unless it was struck already; what stands now is asked about then."""
    readings = readings_of(run)
    if number in readings.numbers[~readings.struck]:
        strike_out(run, number, number, reason, by=by, entered_by=entered_by)


def _detail(
    time: str, temperature: str, by: Account, entered_by: Person | None, sent: Sent
) -> dict[str, object]:
    now = clock.now()
    detail: dict[str, object] = {
        "time": time.strip(),
        "temperature": temperature.strip(),
        "at": now.isoformat(),
        "account": by.pk,
        "person": entered_by.pk if entered_by else None,
    }
    if sent.waited >= timedelta(seconds=2):
        detail["typed_at"] = (now - sent.waited).isoformat()
    return detail


def _set_clock(run: Run, time_s: float, waited: timedelta) -> None:
    """The first typed reading says when the clock of the readings stood at zero."""
    if run.clock_zero_at is None and abs(time_s) <= LONGEST_RUN_S:
        run.clock_zero_at = clock.now() - waited - timedelta(seconds=time_s)
        run.save(update_fields=["clock_zero_at"])


def _note(run: Run, before: Readings, time_s: float, temperature_c: float) -> Note | None:
    fired = Sheet(run).number("fired_at_s")
    return note_on_newest(
        *before.kept(),
        time_s,
        temperature_c,
        fired_at_s=None if fired is None else float(fired),
        is_fired=run.fired_at is not None,
        limits=Thresholds.from_dict(run.method.thresholds),
    )


@transaction.atomic
def start_clock(run: Run, *, by: Account) -> Run:
    """Set the clock of the readings to zero now. Once a reading stands it is not moved."""
    require(by, "fill in sheet", run)
    run = hold(run)
    refuse_when_finished(run)
    if readings_of(run).kept_count:
        raise refuse("clock", "Readings stand already; their clock is not started again.")
    run.clock_zero_at = clock.now()
    run.save(update_fields=["clock_zero_at"])
    return run


@transaction.atomic
def mark_fired_by_this_clock(
    run: Run, moment: str, *, by: Account, entered_by: Person | None = None
) -> Run:
    """Mark the firing at a moment of this page's own clock. Refused like any other firing."""
    require(by, "fill in sheet", run)
    run = hold(run)
    if run.state == Run.State.OPEN:
        enter_figure(run, "fired_by_clock", "pc", by=by, entered_by=entered_by)
    return mark_fired(run, moment, by=by, entered_by=entered_by)

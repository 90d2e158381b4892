"""Taking readings in, striking them out, and folding small blocks together."""

from __future__ import annotations

import itertools
from operator import attrgetter
from typing import Any

import numpy as np
from django.db import transaction

from .. import clock
from ..access import require
from ..intake import Preview
from ..intake.figures import Ambiguous, NotANumber, read_figure, read_moment
from ..lookups.readings import next_number, readings_of
from ..models import Account, LoggerFile, Person, ReadingBlock, ReadingStrike, Run
from ..models.readings import pack, unpack
from ..problems import check_length, refuse, refuse_if_blocked, with_changing
from .decisions import hold
from .reductions import reduce_if_readings_stand
from .sheets import LONGEST_REASON, check_present

WARMEST_C, COLDEST_C = 60, -10


@transaction.atomic
def add_typed_reading(
    run: Run, time: str, temperature: str, *, by: Account, entered_by: Person | None = None
) -> ReadingBlock:
    """Keep one typed reading. It is on disk when this returns."""
    require(by, "fill in sheet", run)
    run = hold(run)
    _refuse_when_finished(run)
    check_present(run, entered_by)
    try:
        time_s = read_moment(time)
    except (Ambiguous, NotANumber) as error:
        raise refuse("time", str(error), "time") from error
    try:
        temperature_c = read_figure(temperature).value
    except (Ambiguous, NotANumber) as error:
        raise refuse("temperature", str(error), "temperature") from error
    _refuse_if_not_bath_temperature(float(temperature_c), temperature)
    detail = {
        "time": time.strip(),
        "temperature": temperature.strip(),
        "at": clock.now().isoformat(),
        "by": entered_by.name if entered_by else by.name,
    }
    return _keep(
        run, [float(time_s)], [float(temperature_c)], [detail], ReadingBlock.Source.TYPED, by
    )


def _refuse_if_not_bath_temperature(value: float, typed: str) -> None:
    if not COLDEST_C <= value <= WARMEST_C:
        sentence = (
            f"{typed.strip()} °C was typed; a bucket temperature from −10 to {WARMEST_C} °C "
            "was expected. Check the decimal mark."
        )
        raise refuse("temperature", sentence, "temperature")


@transaction.atomic
def keep_file(run: Run, name: str, content: bytes, *, by: Account) -> LoggerFile:
    """Keep a handed-in file's bytes, before anything is made of them."""
    require(by, "fill in sheet", run)
    run = hold(run)
    _refuse_when_finished(run)
    digest = LoggerFile.digest(content)
    known = run.files.filter(sha256=digest).first()
    if known is not None:
        return known
    return LoggerFile.objects.create(
        run=run,
        name=name[-255:],
        sha256=digest,
        content=content,
        size=len(content),
        at=clock.now(),
        by=by,
    )


@transaction.atomic
def use_file(
    file: LoggerFile, preview: Preview, *, by: Account, entered_by: Person | None = None
) -> ReadingBlock:
    """Take the readings of a kept file; readings the run had before are struck out."""
    require(by, "fill in sheet", file.run)
    run = hold(file.run)
    _refuse_when_finished(run)
    check_present(run, entered_by)
    if preview.questions:
        sentences = " ".join(question.sentence for question in preview.questions)
        raise refuse("undecided", f"{file.name} still leaves a question open: {sentences}")
    if not preview.readings:
        raise refuse("no readings", f"No readings were found in {file.name}.")
    start = preview.first_time_s or 0.0
    times = [start + time for time, _ in preview.readings]
    temperatures = [temperature for _, temperature in preview.readings]
    standing = _block_that_stands(run, file, times, temperatures)
    if standing is not None:
        return standing
    _strike_all(run, f"replaced by {file.name}"[:200], by=by, entered_by=entered_by)
    details = [
        {"time": f"{time:.10g}", "temperature": text}
        for time, text in zip(times, preview.readings_text, strict=True)
    ]
    block = _keep(run, times, temperatures, details, ReadingBlock.Source.FILE, by, file)
    file.read_as = {key: value for key, value in preview.as_dict().items() if key != "readings"}
    file.save(update_fields=["read_as"])
    reduce_if_readings_stand(run, by=by, reason=f"readings from {file.name}")
    return block


def _block_that_stands(
    run: Run, file: LoggerFile, times: list[float], temperatures: list[float]
) -> ReadingBlock | None:
    """The block that holds these very readings already: a second click takes nothing twice."""
    block = run.blocks.filter(file=file).last()
    if block is None:
        return None
    readings = readings_of(run)
    same = (
        np.array_equal(readings.numbers[~readings.struck], block.numbers)
        and np.array_equal(unpack(block.times_s), times)
        and np.array_equal(unpack(block.temperatures_c), temperatures)
    )
    return block if same else None


@transaction.atomic
def strike_readings(
    run: Run,
    first: int,
    last: int,
    reason: str,
    *,
    by: Account,
    entered_by: Person | None = None,
) -> ReadingStrike:
    """Strike readings out, first to last by number, with the reason."""
    require(by, "fill in sheet", run)
    run = hold(run)
    check_present(run, entered_by)
    if run.state in (Run.State.SIGNED, Run.State.SET_ASIDE):
        raise refuse("finished", f"{run} is {run.state}; its readings stay as they are.")
    if not reason.strip():
        raise refuse("reason", "Say why the reading is left out; it stays, struck out.", "reason")
    check_length(reason, LONGEST_REASON, "reason")
    refuse_if_blocked(with_changing(run, reason, needs_reason=True))
    if not 1 <= first <= last < next_number(run):
        raise refuse("number", f"This run has readings 1 to {next_number(run) - 1}.", "number")
    strike = _strike(run, first, last, reason.strip(), by=by, entered_by=entered_by)
    reduce_if_readings_stand(run, by=by, reason=f"reading {first} struck out")
    return strike


def _strike_all(run: Run, reason: str, *, by: Account, entered_by: Person | None) -> None:
    """Strike whatever still counts, in as few rows as its gaps allow."""
    readings = readings_of(run)
    counting = readings.numbers[~readings.struck]
    for piece in np.split(counting, np.flatnonzero(np.diff(counting) > 1) + 1):
        if len(piece):
            _strike(run, int(piece[0]), int(piece[-1]), reason, by=by, entered_by=entered_by)


def _strike(
    run: Run, first: int, last: int, reason: str, *, by: Account, entered_by: Person | None
) -> ReadingStrike:
    return ReadingStrike.objects.create(
        run=run, first_number=first, last_number=last, reason=reason,
        at=clock.now(), by=by, entered_by=entered_by,
    )  # fmt: skip


def _refuse_when_finished(run: Run) -> None:
    if run.is_finished:
        sentence = (
            f"{run} is {run.state}; no readings can be added. Correct a figure with its reason, "
            "or open another run."
        )
        raise refuse("finished", sentence)


def _keep(
    run: Run,
    times: list[float],
    temperatures: list[float],
    details: list[dict[str, Any]],
    source: ReadingBlock.Source,
    by: Account,
    file: LoggerFile | None = None,
) -> ReadingBlock:
    return ReadingBlock.objects.create(
        run=run,
        first_number=next_number(run),
        count=len(times),
        source=source,
        times_s=pack(times),
        temperatures_c=pack(temperatures),
        details=ReadingBlock.pack_details(details),
        file=file,
        at=clock.now(),
        by=by,
    )


def fold_blocks(run: Run) -> None:
    """Join neighbouring typed blocks into one each, every reading with its own details.

    A run of a few hundred typed readings then takes one row instead of a few hundred.
    """
    alike = attrgetter("source", "file_id")
    for _, together in itertools.groupby(run.blocks.select_related("by"), key=alike):
        blocks = list(together)
        if len(blocks) > 1:
            _fold(run, blocks)


def _fold(run: Run, blocks: list[ReadingBlock]) -> None:
    times = np.concatenate([unpack(block.times_s) for block in blocks])
    temperatures = np.concatenate([unpack(block.temperatures_c) for block in blocks])
    details = [detail for block in blocks for detail in block.read_details()]
    first = blocks[0]
    run.blocks.filter(pk__in=[block.pk for block in blocks]).delete()
    ReadingBlock.objects.create(
        run=run, first_number=first.first_number, count=len(times), source=first.source,
        times_s=pack(times), temperatures_c=pack(temperatures),
        details=ReadingBlock.pack_details(details), file=first.file, at=first.at, by=first.by,
    )  # fmt: skip

"""Keeping a logger's file, taking its readings, and what is remembered of how it was read."""

from __future__ import annotations

from dataclasses import asdict

import numpy as np
from django.db import transaction

from reduction.firings import Stretch

from .. import clock
from ..access import require
from ..intake import Choices, Preview
from ..lookups.file_choices import choices_for
from ..lookups.file_firings import WHOLE, FileReadings, firings_in, readings_in
from ..lookups.readings import readings_of
from ..models import Account, FileChoices, LoggerFile, Person, ReadingBlock, Run
from ..models.readings import unpack
from ..problems import refuse
from .decisions import hold
from .readings import keep_readings, refuse_when_finished, strike_all
from .reductions import reduce_if_readings_stand
from .sheets import check_present

NOTHING_CHOSEN = Choices()


@transaction.atomic
def keep_file(run: Run, name: str, content: bytes, *, by: Account) -> LoggerFile:
    """Keep a handed-in file's bytes, before anything is made of them."""
    require(by, "fill in sheet", run)
    run = hold(run)
    refuse_when_finished(run)
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
    file: LoggerFile,
    preview: Preview,
    *,
    by: Account,
    entered_by: Person | None = None,
    firing: str = "",
    settled: Choices = NOTHING_CHOSEN,
) -> ReadingBlock:
    """Take the readings of a kept file; readings the run had before are struck out.

    ``firing`` says which firing of a file that holds several is this run's, by its number, or
    ``WHOLE``. What was ``settled`` about the file's layout is remembered for the bench.
    """
    require(by, "fill in sheet", file.run)
    run = hold(file.run)
    refuse_when_finished(run)
    check_present(run, entered_by)
    _refuse_undecided(file, preview)
    readings, stretch = _chosen(file, run, readings_in(preview), firing)
    _remember(run, preview, settled, by)
    standing = _block_that_stands(run, file, readings)
    if standing is not None:
        return standing
    strike_all(run, f"replaced by {file.name}"[:200], by=by, entered_by=entered_by)
    block = _keep_taken(run, file, preview, readings, stretch, by)
    reduce_if_readings_stand(run, by=by, reason=f"readings from {file.name}")
    return block


def _refuse_undecided(file: LoggerFile, preview: Preview) -> None:
    if preview.questions:
        sentences = " ".join(question.sentence for question in preview.questions)
        raise refuse("undecided", f"{file.name} still leaves a question open: {sentences}")
    if not preview.readings:
        raise refuse("no readings", f"No readings were found in {file.name}.")


def _chosen(
    file: LoggerFile, run: Run, readings: FileReadings, firing: str
) -> tuple[FileReadings, Stretch | None]:
    """The readings of the chosen firing; all of them where the file holds only one."""
    firings = firings_in(readings, run.method)
    if not firings or firing == WHOLE:
        return readings, None
    numbers = {str(number): stretch for number, stretch in enumerate(firings, 1)}
    if firing not in numbers:
        sentence = f"{file.name} holds {len(firings)} firings. Choose which is this run’s."
        raise refuse("undecided", sentence, "firing")
    return readings.within(numbers[firing]), numbers[firing]


def _keep_taken(
    run: Run,
    file: LoggerFile,
    preview: Preview,
    readings: FileReadings,
    stretch: Stretch | None,
    by: Account,
) -> ReadingBlock:
    details = [
        {"time": f"{time:.10g}", "temperature": text, "line": line}
        for time, text, line in zip(readings.times_s, readings.texts, readings.lines, strict=True)
    ]
    read_as = {key: value for key, value in preview.as_dict().items() if key != "readings"}
    if stretch is not None:
        read_as["firing"] = asdict(stretch)
    return keep_readings(
        run,
        list(readings.times_s),
        list(readings.temperatures_c),
        details,
        ReadingBlock.Source.FILE,
        by,
        file=file,
        read_as=read_as,
    )


def _block_that_stands(run: Run, file: LoggerFile, taken: FileReadings) -> ReadingBlock | None:
    """The block that holds these very readings already: a second click takes nothing twice."""
    block = run.blocks.filter(file=file).last()
    if block is None:
        return None
    readings = readings_of(run)
    same = (
        np.array_equal(readings.numbers[~readings.struck], block.numbers)
        and np.array_equal(unpack(block.times_s), taken.times_s)
        and np.array_equal(unpack(block.temperatures_c), taken.temperatures_c)
    )
    return block if same else None


def _remember(run: Run, preview: Preview, settled: Choices, by: Account) -> None:
    """Keep what was chosen for the bench's next file of this layout, over what it had kept."""
    known = choices_for(run.bench, preview.layout)
    before = known.choices if known else {}
    chosen = preview.to_remember(settled).as_dict()
    choices = before | {key: value for key, value in chosen.items() if key != "layout"}
    if choices != before:
        FileChoices.objects.create(
            bench=run.bench, layout=preview.layout, choices=choices, at=clock.now(), by=by
        )


@transaction.atomic
def forget_choices(run: Run, layout: str, *, by: Account) -> None:
    """Let the bench's next file of this layout be read as it is found. What was kept stays."""
    require(by, "fill in sheet", run)
    if choices_for(run.bench, layout) is not None:
        FileChoices.objects.create(
            bench=run.bench, layout=layout, choices={}, at=clock.now(), by=by
        )

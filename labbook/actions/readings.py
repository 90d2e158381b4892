"""Keeping readings, striking them out, and folding small blocks together."""

from __future__ import annotations

import itertools
from operator import attrgetter
from typing import Any

import numpy as np
from django.db import transaction

from .. import clock
from ..access import require
from ..lookups.readings import next_number, readings_of
from ..models import Account, Person, ReadingBlock, ReadingStrike, Run
from ..models.readings import pack, unpack
from ..problems import check_length, refuse, refuse_if_blocked, with_changing
from .decisions import hold
from .reductions import reduce_if_readings_stand
from .sheets import LONGEST_REASON, check_present


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
    strike = strike_out(run, first, last, reason.strip(), by=by, entered_by=entered_by)
    reduce_if_readings_stand(run, by=by, reason=f"reading {first} struck out")
    return strike


def strike_all(run: Run, reason: str, *, by: Account, entered_by: Person | None) -> None:
    """Strike whatever still counts, in as few rows as its gaps allow."""
    readings = readings_of(run)
    counting = readings.numbers[~readings.struck]
    for piece in np.split(counting, np.flatnonzero(np.diff(counting) > 1) + 1):
        if len(piece):
            strike_out(run, int(piece[0]), int(piece[-1]), reason, by=by, entered_by=entered_by)


def strike_out(
    run: Run, first: int, last: int, reason: str, *, by: Account, entered_by: Person | None
) -> ReadingStrike:
    return ReadingStrike.objects.create(
        run=run, first_number=first, last_number=last, reason=reason,
        at=clock.now(), by=by, entered_by=entered_by,
    )  # fmt: skip


def refuse_when_finished(run: Run) -> None:
    if run.is_finished:
        sentence = (
            f"{run} is {run.state}; no readings can be added. Correct a figure with its reason, "
            "or open another run."
        )
        raise refuse("finished", sentence)


def keep_readings(
    run: Run,
    times: list[float],
    temperatures: list[float],
    details: list[dict[str, Any]],
    source: ReadingBlock.Source,
    by: Account,
    **origin: Any,
) -> ReadingBlock:
    return ReadingBlock.objects.create(
        run=run,
        first_number=next_number(run),
        count=len(times),
        source=source,
        times_s=pack(times),
        temperatures_c=pack(temperatures),
        details=ReadingBlock.pack_details(details),
        at=clock.now(),
        by=by,
        **origin,
    )


def fold_blocks(run: Run) -> None:
    """Copy neighbouring small blocks into one each, every reading with its own details.

    A run of a few hundred readings is then read from one row. The small rows stay as they were
    written; they only rest. A file's block stays as it is, since it says how the file was read.
    """
    alike = attrgetter("source", "file_id", "device_id")
    for _, together in itertools.groupby(run.blocks.select_related("by"), key=alike):
        blocks = list(together)
        if len(blocks) > 1 and blocks[0].file_id is None:
            _fold(run, blocks)


SMALL = 60


def fold_small_blocks(run: Run) -> None:
    """Copy a device's newest small blocks into one, while its readings still come in."""
    blocks = run.blocks.select_related("by")
    for (device_id, is_small), together in itertools.groupby(
        blocks, key=lambda block: (block.device_id, block.count < SMALL)
    ):
        found = list(together)
        if device_id is not None and is_small and len(found) >= SMALL:
            _fold(run, found)


def _fold(run: Run, blocks: list[ReadingBlock]) -> None:
    times = np.concatenate([unpack(block.times_s) for block in blocks])
    temperatures = np.concatenate([unpack(block.temperatures_c) for block in blocks])
    details = [detail for block in blocks for detail in block.read_details()]
    first = blocks[0]
    run.blocks.filter(pk__in=[block.pk for block in blocks]).update(folded_at=clock.now())
    ReadingBlock.objects.create(
        run=run, first_number=first.first_number, count=len(times), source=first.source,
        times_s=pack(times), temperatures_c=pack(temperatures),
        details=ReadingBlock.pack_details(details), device=first.device,
        at=first.at, by=first.by,
    )  # fmt: skip

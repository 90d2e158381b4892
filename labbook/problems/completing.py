"""What stands against a run being complete, or a standardization put forward."""

from __future__ import annotations

from ..lookups.around_firing import left_out
from ..lookups.outputs import FEWEST_READINGS, failure_of, kept_outputs
from ..lookups.readings import Readings
from ..lookups.sheets import Sheet
from ..lookups.standardizations import Summary
from ..models import Account, Run, Standardization
from ..sheet import parts_for
from .missing import missing_from
from .refusals import Problem


def with_completing(run: Run, sheet: Sheet, readings: Readings) -> list[Problem]:
    """What keeps the data from being complete. A note not answered yet is asked, and blocks not."""
    left = left_out(run)
    problems = [p for p in missing_from(sheet, parts_for(run.kind)) if p.field not in left]
    if run.fired_at is None:
        problems.append(Problem("not fired", "B", "The firing has not been marked yet."))
    if readings.kept_count < FEWEST_READINGS:
        sentence = (
            f"Readings so far: {readings.kept_count}. At least 2 before and 2 after the firing "
            "are needed; add them now, for a complete run takes no more."
        )
        problems.append(Problem("no readings", "B", sentence))
    elif failure := failure_of(run, sheet, readings):
        problems.append(Problem("no result", "B", failure))
    if not run.present.exists():
        problems.append(Problem("nobody present", "B", "Nobody is marked as present yet."))
    problems += more_wire_left(run, sheet)
    return problems


def more_wire_left(run: Run, sheet: Sheet) -> list[Problem]:
    """More wire after the firing than before it."""
    used, unit = sheet.fuse_used, run.fuse_lot.measured_in if run.fuse_lot else ""
    if used is None or used >= 0:
        return []
    left, before = (f"{sheet.text(key)} {unit}".strip() for key in ("fuse_left", "fuse_before"))
    sentence = f"Wire left ({left}) exceeds the wire there was before ({before})."
    return [Problem("wire", "B", sentence, field="fuse_left")]


def with_putting_forward(
    standardization: Standardization, summary: Summary, account: Account
) -> list[Problem]:
    """``summary`` is the whole one; what is said of a run's values is limited to the account."""
    problems = [
        Problem(
            "unfinished",
            "B",
            f"Run {run.replicate} is {run.state}: complete it, or have it set aside.",
        )
        for run in summary.runs
        if run.state in (Run.State.OPEN, Run.State.FIRED)
    ]
    problems += [
        Problem(
            "no value",
            "B",
            f"Run {run.replicate} gave no heat capacity: correct it, or have it set aside.",
        )
        for run in summary.runs
        if run.state in (Run.State.COMPLETE, Run.State.SIGNED)
        and (run.result is None or run.result.c_j_per_k is None)
    ]
    problems += [
        Problem("stopped", "B", f"Run {run.replicate}: {note['sentence']} Have it set aside.")
        for run, _ in summary.counted
        for note in kept_outputs(run, account).notes
        if note["severity"] == "B"
    ]
    needed = standardization.method.min_replicates
    if summary.n < needed:
        sentence = f"{summary.n} of at least {needed} standardization runs count so far."
        problems.append(Problem("too few runs", "B", sentence))
    return problems

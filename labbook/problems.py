"""Why something may not happen yet, as a list: the page shows all, the action refuses on it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from django.utils import timezone

from .lookups.bench_log import upkeep_of
from .lookups.inputs import heat_of_standard_j_per_g
from .lookups.outputs import FEWEST_READINGS, outputs_of
from .lookups.readings import Readings
from .lookups.sheets import Sheet
from .lookups.standardizations import Summary, approval_in_force
from .models import Bench, Decision, Group, Run, SheetEntry, Standardization
from .sheet import BEFORE_FIRING, Field, Part, parts_for

Severity = Literal["B", "W", "N"]
MASS_TOLERANCE_G = Decimal("0.0002")


@dataclass(frozen=True)
class Problem:
    """``B`` blocks, ``W`` warns and asks, ``N`` is a note. ``lock`` names what a TA may unlock."""

    code: str
    severity: Severity
    sentence: str
    field: str = ""
    lock: str = ""


class Refused(Exception):
    """An action that may not happen now, with every reason."""

    def __init__(self, *problems: Problem) -> None:
        super().__init__(" ".join(problem.sentence for problem in problems))
        self.problems = problems


class Conflict(Refused):
    """Somebody else wrote the same field first."""

    def __init__(self, theirs: SheetEntry, yours: str) -> None:
        super().__init__(
            Problem(
                "two people, one field",
                "W",
                f"Saved as {theirs.text or 'blank'} a moment ago by {theirs.by}; "
                f"you typed {yours or 'blank'}. Which is right?",
                field=theirs.field,
            )
        )
        self.theirs = theirs
        self.yours = yours


def refuse(code: str, sentence: str, field: str = "") -> Refused:
    return Refused(Problem(code, "B", sentence, field=field))


def refuse_if_blocked(problems: list[Problem]) -> None:
    """Raise Refused when any of the problems blocks."""
    blocking = [problem for problem in problems if problem.severity == "B"]
    if blocking:
        raise Refused(*blocking)


def check_length(text: str, at_most: int, field: str) -> None:
    """Raise Refused for text that no column takes: too long, or with a zero byte in it."""
    if "\0" in text:
        raise refuse("characters", "A zero byte was sent with the text. Type it again.", field)
    if len(text) > at_most:
        sentence = f"{len(text)} characters were typed; at most {at_most} are kept. Shorten it."
        raise refuse("too long", sentence, field)


def with_opening(bench: Bench, group: Group) -> list[Problem]:
    """What stands against this group opening any run on this bench."""
    problems = []
    if not bench.in_service:
        problems.append(
            Problem("bench", "B", f"This bench, {bench.code}, is out of service. Ask your TA.")
        )
    if group.bench_id is None:
        sentence = f"Group {group} has no bench booked. Ask your TA to book one."
        problems.append(Problem("booking", "B", sentence))
    elif group.bench_id != bench.pk:
        sentence = (
            f"You are on {bench}; group {group} is booked on {group.bench}. "
            "Go there, or ask your TA to move the booking."
        )
        problems.append(Problem("booking", "B", sentence))
    if not bench.configurations.exists():
        sentence = f"The parts of {bench} are not recorded yet. A coordinator does that first."
        problems.append(Problem("configuration", "B", sentence))
    return problems + _upkeep_problems(bench)


def _upkeep_problems(bench: Bench) -> list[Problem]:
    """An overdue service keeps a bench from a new run unless it is released for the day."""
    upkeep = upkeep_of([bench])[bench.pk]
    problems = []
    for service in upkeep.services:
        if not service.is_overdue:
            continue
        seen = f"Overdue on {bench}: {service.plan.words}. {service.sentence}."
        if service.released is None:
            ask = "Have it done and logged, or ask your TA to release the bench for today."
            problems.append(Problem("overdue service", "B", f"{seen} {ask}"))
        else:
            given = f"{service.released.by} released the bench today: “{service.released.words}”."
            problems.append(Problem("overdue service", "W", f"{seen} {given}"))
    for fault in upkeep.faults:
        sentence = f"Fault on {bench}, {timezone.localtime(fault.at):%-d %B}: “{fault.words}”."
        problems.append(Problem("open fault", "W", f"{sentence} Ask your TA if it matters today."))
    return problems


def with_opening_unknown(bench: Bench, group: Group) -> list[Problem]:
    problems = with_opening(bench, group)
    if approval_in_force(bench) is None:
        sentence = (
            f"There is no approved standardization in force on {bench}. Unknowns open once a TA "
            "has approved one."
        )
        problems.append(Problem("no approval", "B", sentence))
    return problems


def with_entry(run: Run, field: Field, reason: str) -> list[Problem]:
    """What stands against writing this field of this run now."""
    words = f"“{field.words}”"
    if run.kind not in field.kinds:
        return [Problem("field", "B", f"{words} is not on the sheet of a {run.kind} run.")]
    if run.state == Run.State.SIGNED:
        sentence = (
            "This sheet is signed. Ask your TA to take the run up again before correcting it."
        )
        return [Problem("signed", "B", sentence, field=field.key)]
    if run.state == Run.State.SET_ASIDE:
        return [Problem("set aside", "B", "This run was set aside; its sheet stays as it is.")]
    return with_changing(run, reason, needs_reason=run.is_finished)


def with_changing(run: Run, reason: str, needs_reason: bool) -> list[Problem]:
    problems = []
    standardization = run.standardization
    if standardization is not None and not standardization.is_editable:
        sentence = (
            f"Standardization {standardization.pk} is {standardization.get_state_display()}, "
            "so its runs cannot change. Take it back first, or ask your TA to send it back."
        )
        problems.append(Problem("standardization", "B", sentence))
    if needs_reason and not reason.strip():
        sentence = (
            "This run is complete. Say why the figure changes; the old one stays, struck out."
        )
        problems.append(Problem("reason", "B", sentence))
    return problems


def with_firing(run: Run, sheet: Sheet) -> list[Problem]:
    """Everything that stands between this sheet and firing, limits and locks included."""
    parts = [part for part in parts_for(run.kind) if part.key in BEFORE_FIRING]
    return [
        *_bench_problems(run),
        *_missing(parts, sheet),
        *_charge_problems(run, sheet),
        *_vessel_problems(run, sheet),
    ]


def _bench_problems(run: Run) -> list[Problem]:
    """A bench closed or changed since the run was opened: its limits and its C are others now."""
    bench, newest = run.bench, run.bench.configurations.first()
    problems = []
    if not bench.in_service:
        sentence = f"This bench, {bench.code}, is out of service. Do not fire; ask your TA."
        problems.append(Problem("bench", "B", sentence))
    if newest is not None and newest.pk != run.configuration_id:
        sentence = (
            f"{bench} was changed on {timezone.localtime(newest.since):%-d %B %Y} "
            f"(“{newest.reason}”) after this run was opened. Do not fire; have it set aside and "
            "open another."
        )
        problems.append(Problem("configuration", "B", sentence))
    return problems


def _missing(parts: list[Part], sheet: Sheet) -> list[Problem]:
    return [
        Problem("missing", "B", f"“{field.words}” is not filled in yet.", field=field.key)
        for part in parts
        for field in part.fields
        if field.required and not sheet.text(field.key) and not _replaced(field, sheet)
    ]


def _replaced(field: Field, sheet: Sheet) -> bool:
    return bool(field.unless) and all(sheet.text(key) for key in field.unless)


def _charge_problems(run: Run, sheet: Sheet) -> list[Problem]:
    charge = sheet.charge_g
    if charge is None:
        return []
    if charge <= 0:
        sentence = f"Crucible with pellet minus crucible alone is {charge} g. Check both masses."
        return [Problem("mass", "B", sentence, field="charge_gross_g")]
    problems = _net_problems(sheet, charge)
    limit = run.configuration.max_charge_g
    if run.sample is not None:
        limit = min(limit, run.sample.max_charge_g)
    if charge > limit and not is_unlocked(run, sheet, "charge"):
        sentence = (
            f"The charge is {charge} g; the limit here is {limit.normalize():f} g. "
            "Press a smaller pellet, or ask your TA to unlock this firing with a reason."
        )
        problems.append(Problem("over-charge", "B", sentence, "charge_gross_g", lock="charge"))
    return problems + _energy_problems(run, sheet, charge)


def _net_problems(sheet: Sheet, charge: Decimal) -> list[Problem]:
    net = sheet.number("charge_net_g")
    if net is None or abs(net - charge) <= MASS_TOLERANCE_G:
        return []
    sentence = f"Crucible with pellet minus crucible alone is {charge} g; you noted {net} g."
    return [Problem("net mass", "W", sentence, field="charge_net_g")]


def _energy_problems(run: Run, sheet: Sheet, charge: Decimal) -> list[Problem]:
    energy = predicted_energy_kj(run, charge)
    limit = run.configuration.max_energy_kj
    if energy is None or energy <= limit or is_unlocked(run, sheet, "energy"):
        return []
    sentence = (
        f"This charge would release {energy:.1f} kJ; the limit of this vessel is {limit} kJ. "
        "Press a smaller pellet, or ask your TA to unlock this firing with a reason."
    )
    return [Problem("over-charge", "B", sentence, "charge_gross_g", lock="energy")]


def predicted_energy_kj(run: Run, charge: Decimal) -> Decimal | None:
    """What the pellet will release, from the standard's certificate; None for an unknown."""
    if run.standard_lot is None:
        return None
    return charge * Decimal(heat_of_standard_j_per_g(run.standard_lot)) / 1000


def _vessel_problems(run: Run, sheet: Sheet) -> list[Problem]:
    problems = []
    pressure, limit = sheet.number("oxygen_atm"), run.configuration.max_oxygen_atm
    if pressure is not None and pressure > limit and not is_unlocked(run, sheet, "oxygen"):
        sentence = (
            f"Oxygen pressure {pressure} atm is above this bench's limit of {limit} atm. "
            "Let it down slowly, or ask your TA to unlock this firing with a reason."
        )
        problems.append(Problem("pressure", "B", sentence, "oxygen_atm", lock="oxygen"))
    if sheet.text("leak_check") == "leak":
        sentence = "A leak was seen. Do not fire. Vent, open, check the seal, then check again."
        problems.append(Problem("leak", "B", sentence, field="leak_check"))
    return problems


LOCK_FIELDS = {
    "charge": ("charge_gross_g", "charge_tare_g"),
    "energy": ("charge_gross_g", "charge_tare_g", "standard_lot"),
    "oxygen": ("oxygen_atm",),
}


def is_unlocked(run: Run, sheet: Sheet, lock: str) -> bool:
    """Whether a TA unlocked this limit for the figures as they now stand."""
    unlock = run.decisions.filter(deed=Decision.Deed.UNLOCKED, new=lock).last()
    if unlock is None:
        return False
    entries = (sheet.current.get(field) for field in LOCK_FIELDS[lock])
    return all(entry is None or entry.at <= unlock.at for entry in entries)


def with_completing(run: Run, sheet: Sheet, readings: Readings) -> list[Problem]:
    problems = _missing(parts_for(run.kind), sheet)
    if run.fired_at is None:
        problems.append(Problem("not fired", "B", "The firing has not been marked yet."))
    if readings.kept_count < FEWEST_READINGS:
        sentence = (
            f"Readings so far: {readings.kept_count}. At least 2 before and 2 after the firing "
            "are needed; add them now, for a complete run takes no more."
        )
        problems.append(Problem("no readings", "B", sentence))
    elif failure := outputs_of(run, sheet, readings).failure:
        problems.append(Problem("no result", "B", failure))
    if not run.present.exists():
        problems.append(Problem("nobody present", "B", "Nobody is marked as present yet."))
    used = sheet.fuse_used
    if used is not None and used < 0:
        before, left = sheet.text("fuse_before"), sheet.text("fuse_left")
        sentence = f"Wire left ({left}) exceeds the wire there was before ({before})."
        problems.append(Problem("wire", "B", sentence, field="fuse_left"))
    return problems


def with_putting_forward(standardization: Standardization, summary: Summary) -> list[Problem]:
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
        for note in (run.result.outputs.get("notes", []) if run.result else [])
        if note["severity"] == "B"
    ]
    needed = standardization.method.min_replicates
    if summary.n < needed:
        sentence = f"{summary.n} of at least {needed} standardization runs count so far."
        problems.append(Problem("too few runs", "B", sentence))
    return problems

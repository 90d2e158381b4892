"""What stands against a group opening a run on a bench."""

from __future__ import annotations

from django.utils import timezone

from ..lookups.afternoons import newest_preparation
from ..lookups.bench_log import upkeep_of
from ..lookups.practice import is_of_practice
from ..lookups.standardizations import approval_in_force
from ..models import Bench, Group
from .approvals import last_approval_out_of_date
from .refusals import Problem
from .terms import with_changing_term


def with_opening(bench: Bench, group: Group) -> list[Problem]:
    """What stands against this group opening any run on this bench."""
    problems = with_changing_term(group.section.term)
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
    return [*problems, *_not_released(bench, group), *_upkeep_problems(bench)]


def _not_released(bench: Bench, group: Group) -> list[Problem]:
    """A warning, no more: a TA who forgot to say so must not hold up an afternoon.

    A section that never kept a preparation list is not asked for one.
    """
    preparation = newest_preparation(group) if group.bench_id == bench.pk else None
    if preparation is not None and not preparation.is_released:
        sentence = f"{preparation.by} has not released {bench} today: “{preparation.words}”."
    elif preparation is None and group.section.preparations.exists():
        sentence = f"This bench, {bench.code}, is not released yet this afternoon."
    else:
        return []
    return [Problem("not released", "W", f"{sentence} Ask your TA before you begin.")]


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
        on = f"{timezone.localtime(fault.at):%-d %B}"
        sentence = f"Fault on {bench}, {on}: “{fault.words.rstrip('.')}”."
        problems.append(Problem("open fault", "W", f"{sentence} Ask your TA if it matters today."))
    return problems


def with_opening_unknown(bench: Bench, group: Group) -> list[Problem]:
    problems = with_opening(bench, group)
    of_practice = is_of_practice(group)
    if approval_in_force(bench, of_practice=of_practice) is None:
        sentence = (
            f"There is no approved standardization in force on {bench}. Unknowns open once a TA "
            "has approved one."
        )
        if out_of_date := last_approval_out_of_date(bench, of_practice=of_practice):
            sentence = f"{out_of_date} Standardize again. {sentence}"
        problems.append(Problem("no approval", "B", sentence))
    return problems

"""What stands against the heat capacity a bench or a run would rest on."""

from __future__ import annotations

from django.utils import timezone

from .. import clock
from ..lookups.benches import what_changed
from ..models import Bench, Run, Standardization
from .refusals import Problem

State = Standardization.State


def with_resting_on(run: Run) -> list[Problem]:
    """An unknown is not fired on a C that is out of date, of another bench, or withdrawn."""
    source = run.rests_on
    if source is None:
        return []
    why = why_not_in_force(source, run.bench)
    return [Problem("approval", "B", f"{why} Do not fire: standardize again.")] if why else []


def why_not_in_force(source: Standardization, bench: Bench) -> str:
    """The sentence that says why an approved value does not hold on the bench today, or nothing."""
    if source.bench_id != bench.pk:
        return f"This C belongs to {source.bench}; you are on {bench}."
    newest = bench.configurations.first()
    if newest is not None and newest.pk != source.configuration_id:
        return f"{what_changed(newest)} on {timezone.localtime(newest.since):%-d %B}."
    if source.state == State.APPROVED and source.lapses_on and source.lapses_on < clock.today():
        return f"The approval ended on {source.lapses_on:%-d %B %Y}."
    if source.state != State.APPROVED:
        return f"The approval it rests on is {source.get_state_display()}."
    return ""


def last_approval_out_of_date(bench: Bench, *, of_practice: bool = False) -> str:
    """Why the newest value approved on a bench holds no longer, where there is one."""
    approved = bench.standardizations.filter(
        approved_at__isnull=False, group__section__term__is_practice=of_practice
    )
    last = approved.order_by("-approved_at").first()
    return "" if last is None else why_not_in_force(last, bench)

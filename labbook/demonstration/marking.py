"""The first hand-ins of the term going on: one marked by both TAs and given out, one waiting."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from .. import clock
from ..actions.handing_in import hand_in
from ..actions.marking import add_descriptor, give_marks_out, mark_hand_in, share_hand_in
from ..actions.setup import save_setup
from ..lookups.marking import listed, state_seen
from ..models import Account, Descriptor, HandIn, MarkScheme
from .laboratory import Laboratory
from .terms import RunningTerm, Team

HANDED_IN, MARKED, GIVEN_OUT = (timedelta(days=days) for days in (3, 2, 1))


def hand_in_and_mark(laboratory: Laboratory, running: RunningTerm, now: datetime) -> None:
    with clock.at(now - HANDED_IN):
        scheme = keep_scheme(laboratory, running)
        work = _hand_in(running.sections[0][0])
    with clock.at(now - MARKED):
        share_hand_in(work, by=laboratory.coordinator)
        teams = {"own": running.sections[0][0], "other": running.sections[-1][0]}
        for row in laboratory.scenario.marking["marks"]:
            _mark(work, scheme, row, by=teams[row["section"]].assistant)
    with clock.at(now - GIVEN_OUT):
        section, by = work.group.section, teams["own"].assistant
        give_marks_out(section, seen=listed(section, by).seen, by=by)
    with clock.at(now):
        _hand_in(running.sections[-1][-1])


def keep_scheme(laboratory: Laboratory, running: RunningTerm) -> MarkScheme:
    """The course's descriptors, chosen for the term."""
    rows = laboratory.scenario.marking
    scheme = MarkScheme(name=rows["name"])
    save_setup(scheme, by=laboratory.maker)
    for row in rows["descriptors"]:
        descriptor = Descriptor(scheme=scheme, **row | {"points": Decimal(row["points"])})
        add_descriptor(descriptor, by=laboratory.maker)
    running.term.mark_scheme = scheme
    save_setup(running.term, by=laboratory.maker)
    return scheme


def _hand_in(team: Team) -> HandIn:
    return hand_in(team.group, by=team.account, entered_by=team.members[0])


def _mark(work: HandIn, scheme: MarkScheme, row: dict[str, Any], by: Account) -> None:
    """The descriptors of a row stand by their place in the scheme."""
    keys = list(scheme.descriptors.values_list("pk", flat=True))
    seen = {keys[place - 1] for place in row["seen"]}
    mark_hand_in(work, seen, row["remark"], seen=state_seen(scheme, None), by=by)

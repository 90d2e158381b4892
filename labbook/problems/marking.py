"""What stands against marking a hand-in, giving marks out, and taking them as a table."""

from __future__ import annotations

from collections.abc import Iterable

from ..access import Reach, reach_of
from ..lookups.marking import Listed, asked_by, own_mark, state_seen
from ..models import Account, HandIn, Mark, MarkScheme, Term
from .refusals import Problem

LONGEST_REMARK = 1000


def with_scheme(term: Term) -> list[Problem]:
    scheme = term.mark_scheme
    if scheme is None:
        sentence = (
            f"No mark scheme is chosen for {term}. A coordinator chooses one among the term’s "
            "dates and settings."
        )
        return [Problem("scheme", "B", sentence)]
    if not asked_by(scheme):
        sentence = f"The scheme {scheme} has no descriptors in use. A coordinator adds them."
        return [Problem("scheme", "B", sentence)]
    return []


def with_mark(
    hand_in: HandIn, scheme: MarkScheme, ticked: Iterable[int], seen: str, by: Account
) -> list[Problem]:
    """What was ticked has to be of the scheme, and of the page as it is now."""
    own = own_mark(hand_in, by)
    now = state_seen(scheme, own)
    if seen != now:
        return [Problem("stale", "B", _stale(own, seen, now))]
    if set(ticked) - {tick["descriptor"] for tick in asked_by(scheme)}:
        sentence = "A descriptor was sent that is not of this scheme. Tick those on the page."
        return [Problem("descriptor", "B", sentence, "tick")]
    return []


def _stale(own: Mark | None, seen: str, now: str) -> str:
    if own is not None and seen.partition("-")[0] != now.partition("-")[0]:
        return (
            "You marked this hand-in from another page after this one was opened. Your ticks are "
            "as you sent them, and nothing was kept: look at both, then save again."
        )
    return (
        "The scheme was changed after this page was opened. Your ticks are as you sent them, and "
        "nothing was kept: look through the descriptors, then save again."
    )


def with_giving_out(listed: Listed) -> list[Problem]:
    """What is not marked is named; only having no mark at all keeps them from being given out."""
    if not listed.marked:
        sentence = f"No hand-in of {listed.section} is marked, so there are no marks to give out."
        return [Problem("nothing marked", "B", sentence)]
    problems = [
        Problem("not marked", "W", f"{line.name}: {line.waits}.") for line in listed.waiting
    ]
    if listed.without:
        groups = len(listed.without)
        words = "1 group has" if groups == 1 else f"{groups} groups have"
        problems.append(Problem("not handed in", "N", f"{words} handed in nothing yet."))
    return problems


def with_table(listed: Listed, by: Account) -> list[Problem]:
    """A TA’s table of names and points must not undo what marking blind or apart is for."""
    if reach_of(by, "mark") is Reach.ALL:
        return []
    problems = []
    if listed.blind:
        sentence = "This section is marked blind: the table names the groups. Give the marks out."
        problems.append(Problem("blind", "B", sentence))
    unmarked = [line for line in listed.lines if not line.shows_points]
    for line in unmarked:
        sentence = (
            f"{line.name} is marked by several, each without the others’ marks in sight, and you "
            "have not marked it yet. Mark it first."
        )
        problems.append(Problem("shared", "B", sentence))
    return problems

"""What stands against removing a term's names or marks."""

from __future__ import annotations

from django.utils import timezone

from ..lookups.retention import Due, standing_hold
from .refusals import Problem


def with_purging(due: Due) -> list[Problem]:
    problems = []
    hold = standing_hold(due.term)
    if hold is not None:
        on = f"{timezone.localtime(hold.at):%-d %B %Y}"
        sentence = (
            f"A hold by {hold.by} of {on} keeps everything of {due.term}: “{hold.reason}”. "
            "It has to be lifted first."
        )
        problems.append(Problem("hold", "B", sentence))
    if due.until is None:
        sentence = f"No end is set for the {due.words} of {due.term}. Set one under Set-up, Terms."
        problems.append(Problem("no end", "B", sentence))
    elif not due.is_over:
        sentence = f"The {due.words} of {due.term} are kept until {due.until:%-d %B %Y}."
        problems.append(Problem("not over", "B", sentence))
    if not due.count:
        sentence = f"There are no {due.words} of {due.term} to remove."
        problems.append(Problem("nothing", "B", sentence))
    return problems

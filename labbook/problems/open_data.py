"""What is to be said before a data set is published, and what stands against it."""

from __future__ import annotations

from .. import clock
from ..lookups.open_data import Scope
from ..models import Term, Unlock
from .refusals import Problem


def with_publishing(scope: Scope) -> list[Problem]:
    term = scope.term
    if term is not None and term.is_practice:
        sentence = f"{term} is a term to practise in: its readings are invented and no data."
        return [Problem("practice", "B", sentence)]
    if not scope.runs().exists():
        sentence = f"There is no finished run of {scope.title} to publish yet."
        return [Problem("no runs", "B", sentence)]
    return [*_told_early(scope), *_left_out(scope)]


def _told_early(scope: Scope) -> list[Problem]:
    """Terms still running whose groups would find here what they are to work out first."""
    running = Term.objects.filter(pk__in=scope.terms().order_by().values("pk"))
    running = running.filter(ends__gte=clock.today()).exclude(ours_unlock=Unlock.AT_ONCE)
    return [
        Problem(
            "told early",
            "W",
            f"{term} runs until {term.ends:%-d %B %Y}, and its groups are to work their values out "
            "first. A data set published before then tells them.",
        )
        for term in running.order_by("-starts")
    ]


def _left_out(scope: Scope) -> list[Problem]:
    count = scope.left_out()
    if not count:
        return []
    runs = "1 run of a sample" if count == 1 else f"{count} runs of samples"
    sentence = f"{runs} not revealed yet will be left out. Reveal them first to have them in."
    return [Problem("hidden", "N", sentence)]

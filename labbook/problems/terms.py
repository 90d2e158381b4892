"""What stands against closing a term, and against changing one that is closed."""

from __future__ import annotations

from django.utils import timezone
from django.utils.text import capfirst

from .. import clock
from ..models import Run, Standardization, Term, TermClosing
from .refusals import Problem, refuse_if_blocked

UNFINISHED = (Run.State.OPEN, Run.State.FIRED)
GOING_ON = (
    Standardization.State.GATHERING,
    Standardization.State.PUT_FORWARD,
    Standardization.State.SENT_BACK,
)


def with_changing_term(term: Term) -> list[Problem]:
    """A closed term takes nothing new: its archive is made."""
    closing = TermClosing.objects.filter(term=term).first()
    if closing is None:
        return []
    on = f"{timezone.localtime(closing.at):%-d %B %Y}"
    sentence = f"{term} was closed on {on}; it takes no new runs, rosters or slips."
    return [Problem("closed", "B", sentence)]


def refuse_if_closed(term: Term) -> None:
    refuse_if_blocked(with_changing_term(term))


def with_closing(term: Term) -> list[Problem]:
    """Everything that is still open in a term, each with what to do."""
    problems = list(with_changing_term(term))
    if term.ends > clock.today():
        sentence = f"{term} runs until {term.ends:%-d %B %Y}. Close it then, or correct its end."
        problems.append(Problem("running", "B", sentence))
    runs = Run.objects.filter(group__section__term=term).select_related("group__section", "bench")
    runs = runs.order_by("group__section__name", "group__code", "opened_at")
    for run in runs.filter(state__in=UNFINISHED):
        sentence = (
            f"{capfirst(_named(run))} is {run.state}. Complete it, or set it aside with its cause."
        )
        problems.append(Problem("unfinished", "B", sentence, about=("run", run.pk)))
    for run in runs.filter(state=Run.State.COMPLETE):
        sentence = f"The sheet of {_named(run)} is not signed. Sign it, or set the run aside."
        problems.append(Problem("unsigned", "B", sentence, about=("run", run.pk)))
    return [*problems, *_undecided(term)]


def _undecided(term: Term) -> list[Problem]:
    """One put forward waits for its TA; one that its group left is only told."""
    found = Standardization.objects.filter(group__section__term=term, state__in=GOING_ON)
    problems = []
    for one in found.select_related("group__section", "bench"):
        about = ("standardization", one.pk)
        named = f"The standardization of group {one.group} on {one.bench}"
        if one.state == Standardization.State.PUT_FORWARD:
            sentence = f"{named} waits for a decision. Approve it or send it back."
            problems.append(Problem("undecided", "B", sentence, about=about))
        else:
            sentence = f"{named} is {one.get_state_display()}. It stays so."
            problems.append(Problem("undecided", "W", sentence, about=about))
    return problems


def _named(run: Run) -> str:
    return f"run {run.pk}, group {run.group}, {run.bench}"

"""What is still missing from a group's work. Only having nothing complete blocks handing in."""

from __future__ import annotations

from collections.abc import Iterator

from ..lookups.around_firing import answers_to, with_happenings
from ..lookups.sheets import Sheet, sheets_of
from ..lookups.snapshots import runs_to_hand_in
from ..models import Group, HandFiguresSaved, LiteratureValue, Run, Standardization, Unlock
from .refusals import Problem
from .sheet_notes import notes_on_sheet

State = Run.State
FINISHED = (State.COMPLETE, State.SIGNED)


def with_handing_in(group: Group) -> list[Problem]:
    runs = with_happenings(runs_to_hand_in(group))
    if not any(run.state in FINISHED for run in runs):
        sentence = "No run is complete yet, so there is nothing to hand in. Complete one first."
        return [Problem("nothing complete", "B", sentence)]
    return [
        *_with_states(runs),
        *_with_notes(sheets_of(run for run in runs if run.state != State.SET_ASIDE)),
        *_with_hand_figures(group, runs),
        *_with_literature(runs),
        *_with_sets(group),
    ]


def _with_states(runs: list[Run]) -> Iterator[Problem]:
    for run in runs:
        if run.state in (State.OPEN, State.FIRED):
            sentence = f"{_named(run)} is {run.state}: complete it, or have it set aside."
            yield Problem("unfinished", "W", sentence)
        elif run.state == State.COMPLETE:
            yield Problem("unsigned", "W", f"{_named(run)} is not signed. Ask your TA to sign it.")


def _with_notes(sheets: list[Sheet]) -> Iterator[Problem]:
    """A note that several runs ask alike is listed once, with their numbers."""
    answers = answers_to(sheet.run for sheet in sheets)
    asking: dict[tuple[str, str], list[str]] = {}
    for sheet in sheets:
        for note in notes_on_sheet(sheet.run, sheet):
            asked = (note.field, note.sentence)
            if note.answers and (note.code, note.sentence) not in answers[sheet.run.pk]:
                asking.setdefault(asked, []).append(f"run {sheet.run.pk}")
    for (field, sentence), runs in asking.items():
        yield Problem("unanswered", "W", f"Not answered in {', '.join(runs)}: {sentence}", field)


def _with_hand_figures(group: Group, runs: list[Run]) -> Iterator[Problem]:
    """Where ours show at once, nobody is kept waiting for hand figures."""
    if group.section.term.ours_unlock == Unlock.AT_ONCE:
        return
    saved = set(HandFiguresSaved.objects.filter(run__in=runs).values_list("run", flat=True))
    for run in runs:
        if run.state in FINISHED and run.kind != Run.Kind.BLANK and run.pk not in saved:
            yield Problem("hand figures", "W", f"The hand figures of {_named(run)} do not stand.")


def _with_literature(runs: list[Run]) -> Iterator[Problem]:
    """Once a sample is revealed its literature value can be looked up, with its citation."""
    revealed = [
        run for run in runs if run.state in FINISHED and run.sample and not run.sample.is_hidden
    ]
    given = LiteratureValue.objects.filter(run__in=revealed)
    labels = {value.run.sample_id for value in given.select_related("run")}
    for label, sample in {r.sample.label: r.sample_id for r in revealed if r.sample}.items():
        if sample not in labels:
            sentence = f"No literature value with its citation is given for sample {label}."
            yield Problem("literature", "W", sentence)


def _with_sets(group: Group) -> Iterator[Problem]:
    for found in group.standardizations.filter(state__in=Standardization.EDITABLE):
        sentence = f"Standardization {found.pk} is {found.state}: it has not been put forward."
        yield Problem("not put forward", "W", sentence)


def _named(run: Run) -> str:
    """A sentence’s subject: Run 12, unknown 1."""
    words = str(run)
    return words[0].upper() + words[1:]

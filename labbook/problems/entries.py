"""What stands against writing on a sheet, or changing a run."""

from __future__ import annotations

from ..models import Run
from ..sheet import Field
from .refusals import Problem


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

"""The strip that shows where a run stands."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from ..models import Run

ORDER = (Run.State.OPEN, Run.State.FIRED, Run.State.COMPLETE, Run.State.SIGNED)


def steps_of(run: Run) -> list[dict[str, Any]]:
    """open → fired → complete → signed, each done, now or ahead; a set-aside run ends the strip."""
    moments = dict(
        zip(
            ORDER,
            (run.opened_at, run.fired_at, run.completed_at, run.signed_at),
            strict=True,
        )
    )
    if run.state == Run.State.SET_ASIDE:
        done = [state for state in ORDER if moments[state]]
        return [*(_step(s, "done", moments[s]) for s in done), _step(run.state, "now", None)]
    here = ORDER.index(run.state)
    return [
        _step(state, "done" if i < here else "now" if i == here else "ahead", moments[state])
        for i, state in enumerate(ORDER)
    ]


def _step(state: str, standing: str, moment: Any) -> dict[str, Any]:
    note = f"{timezone.localtime(moment):%H:%M}" if moment else ""
    return {"words": str(state), "state": standing, "note": note}

"""What the typing panel starts from: the next slot, the readings there are, the clock."""

from __future__ import annotations

from typing import Any

from django.urls import reverse

from .. import clock
from ..lookups.readings import Readings
from ..lookups.typed_readings import standing_since
from ..models import Run
from ..typesetting.moments import written_moment


def typing_context(run: Run, readings: Readings) -> dict[str, Any]:
    """The form, and what the page's script needs to go on where the run stands."""
    last = readings.kept()[0][-1:]
    next_s = float(last[0]) + run.method.reading_interval_s if len(last) else 0.0
    return {
        "next_time": written_moment(next_s),
        "typing": {
            "run": run.pk,
            "interval_s": run.method.reading_interval_s,
            "is_open": run.state == Run.State.OPEN,
            "readings": standing_since(run, 0),
            "save": reverse("add_typed_reading", args=[run.pk]),
            "start": reverse("start_clock", args=[run.pk]),
            "fired": reverse("mark_fired_by_clock", args=[run.pk]),
            **clock_of(run),
        },
    }


def clock_of(run: Run) -> dict[str, float | None]:
    """This server's clock, and where the clock of the readings stood at zero on it, in s."""
    zero = run.clock_zero_at
    return {"now": clock.now().timestamp(), "zero": None if zero is None else zero.timestamp()}

"""What stands between a sheet and firing: what is missing, limits, leaks, the checklist."""

from __future__ import annotations

from django.utils import timezone

from ..lookups.around_firing import checklist_of, leak_awaiting_check
from ..lookups.sheets import Sheet
from ..models import Run
from ..sheet import BEFORE_FIRING, parts_for
from .approvals import with_resting_on
from .locks import limits_exceeded
from .missing import missing_from
from .refusals import Problem


def with_firing(run: Run, sheet: Sheet) -> list[Problem]:
    """Everything that stands between this sheet and firing, limits and locks included."""
    parts = [part for part in parts_for(run.kind) if part.key in BEFORE_FIRING]
    return [
        *with_leaks(run, sheet),
        *_bench_problems(run),
        *with_resting_on(run),
        *_nobody(run),
        *missing_from(sheet, parts),
        *_no_charge(sheet),
        *limits_exceeded(run, sheet),
        *_unticked(run, sheet),
    ]


def _bench_problems(run: Run) -> list[Problem]:
    """A bench closed or changed since the run was opened: its limits and its C are others now."""
    bench, newest = run.bench, run.bench.configurations.first()
    problems = []
    if not bench.in_service:
        sentence = f"This bench, {bench.code}, is out of service. Do not fire; ask your TA."
        problems.append(Problem("bench", "B", sentence))
    if newest is not None and newest.pk != run.configuration_id:
        sentence = (
            f"{bench} was changed on {timezone.localtime(newest.since):%-d %B %Y} "
            f"(“{newest.reason}”) after this run was opened. Do not fire; have it set aside and "
            "open another."
        )
        problems.append(Problem("configuration", "B", sentence))
    return problems


def _nobody(run: Run) -> list[Problem]:
    if run.present.exists():
        return []
    sentence = "Nobody is marked as present yet. Say who is here before you fire."
    return [Problem("nobody present", "B", sentence, field="present")]


def _no_charge(sheet: Sheet) -> list[Problem]:
    charge = sheet.charge_g
    if charge is None or charge > 0:
        return []
    sentence = f"Crucible with pellet minus crucible alone is {charge} g. Check both masses."
    return [Problem("mass", "B", sentence, field="charge_gross_g")]


def with_leaks(run: Run, sheet: Sheet) -> list[Problem]:
    if sheet.text("leak_check") == "leak":
        sentence = "A leak was seen. Do not fire. Vent, open, check the seal, then check again."
        return [Problem("leak", "B", sentence, field="leak_check")]
    noted = leak_awaiting_check(run, sheet)
    if noted is None:
        return []
    sentence = (
        f"A leak was noted at {timezone.localtime(noted.at):%H:%M}. Do not fire. Vent, open, check "
        "the seal. Choose “leak seen” here, and “tight” once it is."
    )
    return [Problem("leak", "B", sentence, field="leak_check")]


def _unticked(run: Run, sheet: Sheet) -> list[Problem]:
    return [
        Problem(
            "unticked",
            "B",
            f"Ticked before the vessel was opened again, so tick it anew: “{item.words}”"
            if item.lapsed
            else f"Not ticked yet: “{item.words}”",
            field="checklist",
        )
        for item in checklist_of(run, sheet)
        if item.tick is None
    ]

"""What the tests of heat-capacity histories start from: values approved on a bench, as given."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from django.utils import timezone

from labbook.models import (
    Bench,
    BenchConfiguration,
    Decision,
    Group,
    Result,
    Run,
    Section,
    Standardization,
    Term,
)

from .conftest import Laboratory

WEEK = timedelta(days=7)
# Invented values of a sound bench: mean 10 100 J/K, standard deviation 20 J/K.
SOUND = (10_085.0, 10_118.0, 10_096.0, 10_124.0, 10_078.0, 10_103.0, 10_110.0, 10_086.0)


def approved_values(
    lab: Laboratory,
    values: Sequence[float],
    *,
    bench: Bench | None = None,
    newest: datetime | None = None,
    every: timedelta = WEEK,
) -> list[Standardization]:
    """Standardizations approved one after the other, the last at ``newest``, oldest first."""
    bench, newest = bench or lab.bench, newest or timezone.now()
    group = _group_on(lab, bench)
    moments = [newest - every * back for back in reversed(range(len(values)))]
    return [
        _approve(lab, bench, group, value, at) for value, at in zip(values, moments, strict=True)
    ]


def _group_on(lab: Laboratory, bench: Bench) -> Group:
    assert lab.group.group is not None
    section = lab.group.group.section
    found, _ = Group.objects.get_or_create(
        section=section, code=f"H-{bench.code}", defaults={"bench": bench}
    )
    return found


def _approve(
    lab: Laboratory, bench: Bench, group: Group, value: float, at: datetime
) -> Standardization:
    made = Standardization.objects.create(
        bench=bench,
        configuration=BenchConfiguration.objects.filter(bench=bench).earliest("since"),
        group=group,
        method=lab.method,
        state="approved",
        opened_at=at,
        approved_at=at,
        approved_by=lab.assistant,
        approved_c_j_per_k=value,
        approved_s_j_per_k=20.0,
        approved_half_width_j_per_k=50.0,
        approved_n=3,
    )
    deed = Decision.Deed.APPROVED
    Decision.objects.create(standardization=made, deed=deed, by=lab.assistant, at=at)
    return made


def with_runs(made: Standardization, values: Sequence[float], **signs: float) -> list[Run]:
    """Complete runs behind an approved standardization, with these C and signs of wear."""
    runs = []
    for replicate, value in enumerate(values, start=1):
        fired = made.opened_at - timedelta(hours=4 - replicate)
        run = Run.objects.create(
            group=made.group, bench=made.bench, configuration=made.configuration,
            method=made.method, kind="standardization", replicate=replicate, state="complete",
            standardization=made, opened_at=fired, fired_at=fired, completed_at=fired,
        )  # fmt: skip
        run.result = Result.objects.create(
            run=run, at=fired, by=made.approved_by, reason="made", version="0", inputs={},
            c_j_per_k=value, **signs,
        )  # fmt: skip
        run.save()
        runs.append(run)
    made.approved_results.set([run.result for run in runs])
    return runs


def practice_group(lab: Laboratory) -> Group:
    """A group of a practice term, booked on the laboratory's bench."""
    term = Term.objects.create(
        name="practice", starts=lab.term.starts, ends=lab.term.ends, method=lab.method,
        is_practice=True,
    )  # fmt: skip
    section = Section.objects.create(term=term, name="Try-out")
    return Group.objects.create(section=section, code="P1", bench=lab.bench)

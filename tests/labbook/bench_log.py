"""What the tests of the bench log start from: plans, and firings at a given moment."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from labbook.models import Bench, Group, Run, ServicePlan

from .conftest import Laboratory


def seals(**changes: Any) -> ServicePlan:
    facts: dict[str, Any] = {
        "words": "new seals",
        "done_words": "the seals were changed",
        "part_kind": "vessel",
        "every_firings": 60,
    }
    return ServicePlan.objects.create(**facts | changes)


def ago(**span: float) -> datetime:
    return timezone.now() - timedelta(**span)


def firings(
    lab: Laboratory,
    count: int,
    at: datetime,
    *,
    bench: Bench | None = None,
    group: Group | None = None,
    **rest: Any,
) -> None:
    """So many runs fired on the bench at this moment, in its present configuration."""
    bench = bench or lab.bench
    fired: dict[str, Any] = {"kind": "practice", "replicate": 1, "opened_at": at, "fired_at": at}
    Run.objects.bulk_create(
        Run(
            group=group or lab.group.group,
            bench=bench,
            configuration=bench.configurations.first(),
            method=lab.method,
            **fired | rest,
        )
        for _ in range(count)
    )

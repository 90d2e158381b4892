"""The bench log: what is planned for the parts, and what happened to the benches."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, time, timedelta
from typing import Any

from django.utils import timezone

from .. import clock
from ..actions import bench_log
from ..actions.setup import save_setup
from ..models import Account, Bench, BenchEvent, ServicePlan
from .course_dates import at_local
from .laboratory import Laboratory

Kind = BenchEvent.Kind
MORNING = time(9, 15)
DEEDS: dict[str, Callable[..., Any]] = {
    "fault": bench_log.report_fault,
    "near miss": bench_log.report_near_miss,
    "out of service": bench_log.take_out_of_service,
    "back in service": bench_log.return_to_service,
}


def keep_log(laboratory: Laboratory, now: datetime) -> None:
    """All entries of the record's years, each by who made it and as of its day."""
    with clock.at(laboratory.started):
        for row in laboratory.scenario.bench_log["service_plans"]:
            save_setup(ServicePlan(**row), by=laboratory.maker)
    rows = laboratory.scenario.bench_log["entries"]
    entries = [(row, bench) for row in rows for bench in laboratory.benches]
    for row, bench in entries:
        moment = _moment(row, bench, now)
        if bench.code in row["benches"] and moment > laboratory.started:
            with clock.at(moment):
                _write(bench, row["deed"], row.get("words", ""), by=_author(laboratory, row))


def _moment(row: dict[str, Any], bench: Bench, now: datetime) -> datetime:
    if "days_ago" in row:
        day = timezone.localdate(now) - timedelta(days=row["days_ago"])
    else:
        changed = bench.configurations.latest("since").since
        day = timezone.localdate(changed) + timedelta(days=row["days_from_change"])
    return at_local(day, MORNING)


def _author(laboratory: Laboratory, row: dict[str, Any]) -> Account:
    return laboratory.coordinator if row["by"] == "coordinator" else laboratory.assistants[0]


def _write(bench: Bench, deed: str, words: str, *, by: Account) -> None:
    if deed in DEEDS:
        DEEDS[deed](bench, words, by=by)
    elif deed == "remark":
        bench_log.log_event(bench, Kind.REMARK, words, by=by)
    elif deed == "mended":
        fault = bench.events.filter(kind=Kind.FAULT).latest("at")
        bench_log.mend_fault(fault, words, by=by)
    else:
        bench_log.log_service(bench, ServicePlan.objects.get(words=deed), words, by=by)

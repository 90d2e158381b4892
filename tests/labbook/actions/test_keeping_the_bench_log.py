"""Services, faults, near misses, and a bench in or out of service."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
import time_machine
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from labbook.actions import bench_log, runs
from labbook.lookups.bench_log import upkeep_of
from labbook.lookups.standardizations import approval_in_force
from labbook.models import BenchEvent, PhaseBreak, Run
from labbook.problems import Refused, with_opening, with_opening_unknown

from ..bench_log import ago, firings, seals
from ..conftest import Laboratory, approved, put_forward, ready_to_fire


def opened(lab: Laboratory) -> Run:
    return runs.open_standardization_run(lab.bench, by=lab.group)


def overdue(lab: Laboratory) -> None:
    seals()
    firings(lab, 62, ago(days=3))


def codes(lab: Laboratory) -> dict[str, str]:
    found = with_opening(lab.bench, lab.group.group)
    return {problem.code: problem.severity for problem in found}


def test_a_group_reports_a_fault_on_its_own_bench_only(laboratory: Laboratory) -> None:
    fault = bench_log.report_fault(laboratory.bench, "lid cracked", by=laboratory.group)
    assert (fault.kind, fault.words, fault.by) == ("fault", "lid cracked", laboratory.group)
    for report in (bench_log.report_fault, bench_log.report_near_miss):
        with pytest.raises(PermissionDenied):
            report(laboratory.other_bench, "lid cracked", by=laboratory.group)


def test_staff_report_on_any_bench(laboratory: Laboratory) -> None:
    for who in (laboratory.other_assistant, laboratory.coordinator):
        bench_log.report_fault(laboratory.bench, "belt slips", by=who)
    assert len(upkeep_of([laboratory.bench])[laboratory.bench.pk].faults) == 2


@pytest.mark.parametrize("report", [bench_log.report_fault, bench_log.report_near_miss])
def test_a_report_says_what_is_wrong(
    laboratory: Laboratory, report: Callable[..., BenchEvent]
) -> None:
    with pytest.raises(Refused, match="in a few words"):
        report(laboratory.bench, "  ", by=laboratory.group)
    with pytest.raises(Refused, match="401 characters"):
        report(laboratory.bench, "x" * 401, by=laboratory.group)


def test_an_open_fault_warns_until_it_is_mended(laboratory: Laboratory) -> None:
    fault = bench_log.report_fault(laboratory.bench, "lid cracked", by=laboratory.group)
    assert codes(laboratory) == {"open fault": "W"}
    assert opened(laboratory).state == "open"
    answer = bench_log.mend_fault(fault, "lid replaced", by=laboratory.assistant)
    assert (answer.kind, answer.answers) == ("fault mended", fault)
    assert codes(laboratory) == {}


def test_a_fault_is_mended_once_and_with_what_was_done(laboratory: Laboratory) -> None:
    fault = bench_log.report_fault(laboratory.bench, "lid cracked", by=laboratory.group)
    with pytest.raises(Refused, match="what was done"):
        bench_log.mend_fault(fault, "", by=laboratory.assistant)
    bench_log.mend_fault(fault, "lid replaced", by=laboratory.assistant)
    with pytest.raises(Refused, match=r"ta logged this fault as mended on .* already"):
        bench_log.mend_fault(fault, "again", by=laboratory.coordinator)
    near_miss = bench_log.report_near_miss(laboratory.bench, "hand near", by=laboratory.group)
    with pytest.raises(Refused, match="near miss, not a fault"):
        bench_log.mend_fault(near_miss, "talked", by=laboratory.assistant)


def test_a_near_miss_is_logged_and_asks_for_nothing(laboratory: Laboratory) -> None:
    bench_log.report_near_miss(laboratory.bench, "stood over the lid", by=laboratory.group)
    assert codes(laboratory) == {}


def test_a_bench_out_of_service_opens_and_fires_nothing(laboratory: Laboratory) -> None:
    run = ready_to_fire(opened(laboratory), laboratory)
    bench_log.take_out_of_service(laboratory.bench, "smell of gas", by=laboratory.other_assistant)
    laboratory.bench.refresh_from_db()
    with pytest.raises(Refused, match=r"out of service\. Do not fire"):
        runs.mark_fired(run, by=laboratory.group)
    with pytest.raises(Refused, match="out of service"):
        opened(laboratory)
    bench_log.return_to_service(laboratory.bench, "hose changed", by=laboratory.assistant)
    assert runs.mark_fired(Run.objects.get(pk=run.pk), by=laboratory.group).state == "fired"


def test_who_moved_a_bench_stands_in_its_history(laboratory: Laboratory) -> None:
    bench_log.take_out_of_service(laboratory.bench, "leak", by=laboratory.assistant)
    newest = laboratory.bench.history.latest()
    assert (newest.in_service, newest.history_user) == (False, laboratory.assistant)


def test_out_and_back_each_happen_once_with_a_reason(laboratory: Laboratory) -> None:
    bench = laboratory.bench
    with pytest.raises(Refused, match="in service already"):
        bench_log.return_to_service(bench, "fine", by=laboratory.assistant)
    with pytest.raises(Refused, match="Say why"):
        bench_log.take_out_of_service(bench, " ", by=laboratory.assistant)
    bench_log.take_out_of_service(bench, "leak", by=laboratory.assistant)
    with pytest.raises(Refused, match="out of service already"):
        bench_log.take_out_of_service(bench, "leak", by=laboratory.coordinator)
    with pytest.raises(Refused, match="can be used again"):
        bench_log.return_to_service(bench, "", by=laboratory.assistant)
    kinds = bench.events.values_list("kind", flat=True)
    assert list(kinds) == ["out of service"]


def test_an_overdue_service_keeps_the_bench_from_a_new_run(laboratory: Laboratory) -> None:
    overdue(laboratory)
    with pytest.raises(Refused, match=r"Overdue on bench B1: new seals. 62 of 60 firings since"):
        opened(laboratory)
    with pytest.raises(Refused, match="Overdue"):
        runs.open_other_run(laboratory.bench, "blank", by=laboratory.group)
    against = with_opening_unknown(laboratory.bench, laboratory.group.group)
    assert "overdue service" in [problem.code for problem in against]


def test_a_run_already_open_may_still_be_fired(laboratory: Laboratory) -> None:
    run = ready_to_fire(opened(laboratory), laboratory)
    overdue(laboratory)
    assert runs.mark_fired(run, by=laboratory.group).state == "fired"


def test_doing_the_service_releases_the_bench(laboratory: Laboratory) -> None:
    overdue(laboratory)
    plan = seals(words="belt", part_kind="stirrer", every_firings=900)
    bench_log.log_service(laboratory.bench, plan, by=laboratory.assistant)
    assert codes(laboratory) == {"overdue service": "B"}
    service = upkeep_of([laboratory.bench])[laboratory.bench.pk].services[0]
    logged = bench_log.log_service(laboratory.bench, service.plan, by=laboratory.assistant)
    assert logged.part == laboratory.bench.configuration.vessel
    assert opened(laboratory).state == "open"


def test_an_overdue_bench_is_released_with_a_reason_for_the_day(laboratory: Laboratory) -> None:
    overdue(laboratory)
    with pytest.raises(Refused, match="needs its reason"):
        bench_log.override_overdue(laboratory.bench, "", by=laboratory.assistant)
    bench_log.override_overdue(laboratory.bench, "new ring is here", by=laboratory.assistant)
    assert codes(laboratory) == {"overdue service": "W"}
    assert "ta released the bench today: “new ring is here”" in str(
        with_opening(laboratory.bench, laboratory.group.group)
    )
    assert opened(laboratory).state == "open"
    with time_machine.travel(timezone.now() + timedelta(days=1)):
        assert codes(laboratory) == {"overdue service": "B"}


def test_a_release_is_for_what_was_overdue_then(laboratory: Laboratory) -> None:
    overdue(laboratory)
    bench_log.override_overdue(laboratory.bench, "ring is here", by=laboratory.assistant)
    with pytest.raises(Refused, match="Nothing overdue keeps bench B1"):
        bench_log.override_overdue(laboratory.bench, "again", by=laboratory.assistant)
    seals(words="proof test", every_firings=50)
    found = with_opening(laboratory.bench, laboratory.group.group)
    assert [(p.severity, "proof test" in p.sentence) for p in found] == [("B", True), ("W", False)]


def test_a_service_is_logged_for_when_it_was_done(laboratory: Laboratory) -> None:
    plan, yesterday = seals(), ago(days=1)
    event = bench_log.log_service(
        laboratory.bench, plan, "size 2", by=laboratory.assistant, at=yesterday
    )
    assert event.at == yesterday and event.was_recorded_later
    with pytest.raises(Refused, match="logged for that moment already"):
        bench_log.log_service(laboratory.bench, plan, by=laboratory.coordinator, at=yesterday)
    with pytest.raises(Refused, match="still to come"):
        bench_log.log_service(laboratory.bench, plan, by=laboratory.assistant, at=ago(days=-1))
    with pytest.raises(Refused, match="is not recorded"):
        bench_log.log_service(laboratory.bench, plan, by=laboratory.assistant, at=ago(days=500))


def test_a_service_of_another_benchs_part_is_refused(laboratory: Laboratory) -> None:
    plan = seals(part=laboratory.other_bench.configuration.vessel, part_kind="")
    with pytest.raises(Refused, match="was not on bench B1 then; combustion vessel vessel-B1 was"):
        bench_log.log_service(laboratory.bench, plan, by=laboratory.assistant)


def test_a_remark_and_a_service_outside_the_plans(laboratory: Laboratory) -> None:
    stirrer = laboratory.bench.configuration.stirrer
    event = bench_log.log_event(
        laboratory.bench, "service", "belt tightened", by=laboratory.assistant, part=stirrer
    )
    assert (event.kind, event.plan, event.part) == ("service", None, stirrer)
    bench_log.log_event(laboratory.bench, "remark", "moved to the window", by=laboratory.assistant)
    for kind in ("out of service", "fault mended", "nothing"):
        with pytest.raises(Refused, match="not logged this way"):
            bench_log.log_event(laboratory.bench, kind, "so", by=laboratory.assistant)
    with pytest.raises(Refused, match="few words"):
        bench_log.log_event(laboratory.bench, "remark", "", by=laboratory.assistant)


def test_recalibrating_the_thermometer_ends_the_approval(laboratory: Laboratory) -> None:
    found = approved(laboratory)
    with pytest.raises(PermissionDenied):
        bench_log.log_event(laboratory.bench, "recalibrated", "ice point", by=laboratory.assistant)
    event = bench_log.log_event(
        laboratory.bench, "recalibrated", "ice point", by=laboratory.coordinator
    )
    found.refresh_from_db()
    assert found.state == "lapsed" and approval_in_force(laboratory.bench) is None
    assert event.part == laboratory.bench.configuration.thermometer
    cut = PhaseBreak.objects.get(bench=laboratory.bench)
    assert (cut.cause, cut.state, cut.at) == ("thermometer", "proposed", event.at)


def test_a_recalibration_waits_for_an_unfinished_set(laboratory: Laboratory) -> None:
    put_forward(laboratory)
    with pytest.raises(Refused, match=r"\(group M1\) is put forward. Decide on it"):
        bench_log.log_event(
            laboratory.bench, "recalibrated", "ice point", by=laboratory.coordinator
        )
    assert not BenchEvent.objects.exists()


def test_a_group_keeps_no_log(laboratory: Laboratory) -> None:
    plan, bench, group = seals(), laboratory.bench, laboratory.group
    fault = bench_log.report_fault(bench, "lid cracked", by=group)
    deeds = (
        lambda: bench_log.log_service(bench, plan, by=group),
        lambda: bench_log.log_event(bench, "remark", "so", by=group),
        lambda: bench_log.mend_fault(fault, "so", by=group),
        lambda: bench_log.take_out_of_service(bench, "so", by=group),
        lambda: bench_log.return_to_service(bench, "so", by=group),
        lambda: bench_log.override_overdue(bench, "so", by=group),
    )
    for deed in deeds:
        with pytest.raises(PermissionDenied):
            deed()
    assert BenchEvent.objects.get() == fault

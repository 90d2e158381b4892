"""Firings counted per vessel, and services due by firings or by date, whichever is first."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from labbook.actions.bench_log import log_service
from labbook.lookups.bench_log import upkeep_of
from labbook.lookups.services import Service, firings_by_vessel, services_of
from labbook.models import Bench, BenchConfiguration, Group, Run, Section, ServicePlan, Term

from ..bench_log import ago, firings, seals
from ..conftest import Laboratory, bench_with_configuration, head_changed


def due(bench: Bench) -> Service:
    (service,) = services_of([bench])[bench.pk]
    return service


def day(**span: float) -> str:
    return f"{timezone.localtime(ago(**span)):%-d %B %Y}"


def test_firings_count_from_the_last_service(laboratory: Laboratory) -> None:
    plan = seals()
    firings(laboratory, 7, ago(days=30))
    log_service(laboratory.bench, plan, by=laboratory.assistant, at=ago(days=60))
    log_service(laboratory.bench, plan, by=laboratory.assistant, at=ago(days=20))
    firings(laboratory, 3, ago(days=2))
    service = due(laboratory.bench)
    assert (service.firings, service.state) == (3, "fine")
    assert service.sentence == f"3 of 60 firings since the seals were changed on {day(days=20)}"


def test_before_any_service_all_firings_of_the_part_count(laboratory: Laboratory) -> None:
    seals()
    firings(laboratory, 7, ago(days=30))
    service = due(laboratory.bench)
    assert service.firings == 7 and not service.was_done
    assert service.sentence == (
        f"7 of 60 firings since combustion vessel vessel-B1 came into use on {day(days=400)}, "
        "none logged before"
    )


@pytest.mark.parametrize(
    ("fired", "state"), [(53, "fine"), (54, "due soon"), (59, "due soon"), (60, "overdue")]
)
def test_due_by_firings(laboratory: Laboratory, fired: int, state: str) -> None:
    """90 % of 60 is 54; at 60 the next firing would be the 61st."""
    seals()
    firings(laboratory, fired, ago(days=1))
    assert due(laboratory.bench).state == state


@pytest.mark.parametrize(
    ("days", "state"), [(89, "fine"), (90, "due soon"), (99, "due soon"), (100, "overdue")]
)
def test_due_by_date(laboratory: Laboratory, days: int, state: str) -> None:
    plan = seals(every_firings=None, every_days=100)
    log_service(laboratory.bench, plan, by=laboratory.assistant, at=ago(days=days))
    service = due(laboratory.bench)
    assert service.state == state
    assert service.sentence.startswith(f"{days} of 100 days since the seals were changed on")


def test_whichever_is_first_is_what_counts(laboratory: Laboratory) -> None:
    plan = seals(every_days=100)
    log_service(laboratory.bench, plan, by=laboratory.assistant, at=ago(days=20))
    firings(laboratory, 62, ago(days=1))
    service = due(laboratory.bench)
    assert service.state == "overdue" and service.share == pytest.approx(62 / 60)
    assert service.sentence.startswith("62 of 60 firings and 20 of 100 days since the seals")
    ServicePlan.objects.filter(pk=plan.pk).update(every_firings=1000, every_days=15)
    assert due(laboratory.bench).state == "overdue"


def test_misfires_runs_set_aside_practice_and_blanks_are_firings(laboratory: Laboratory) -> None:
    seals()
    firings(laboratory, 1, ago(days=1), kind="blank")
    firings(laboratory, 1, ago(days=1), state="set aside", cause="misfire")
    firings(laboratory, 1, ago(days=1), state="set aside", cause="soot")
    firings(laboratory, 1, ago(days=1), fired_at=None)
    assert due(laboratory.bench).firings == 3


def test_a_practice_term_is_left_out(laboratory: Laboratory) -> None:
    seals()
    today = timezone.localdate()
    term = Term.objects.create(
        name="trial", starts=today, ends=today, method=laboratory.method, is_practice=True
    )
    section = Section.objects.create(term=term, name="trial")
    trial = Group.objects.create(section=section, code="T1", bench=laboratory.bench)
    firings(laboratory, 5, ago(hours=2), group=trial)
    firings(laboratory, 2, ago(hours=2))
    assert due(laboratory.bench).firings == 2
    assert firings_by_vessel(laboratory.bench)[0][1] == 2


def test_firings_follow_the_vessel_from_bench_to_bench(laboratory: Laboratory) -> None:
    """The vessels of B1 and B2 change places; each takes its firings and services with it."""
    seals()
    one, other = laboratory.bench, laboratory.other_bench
    firings(laboratory, 4, ago(days=9), bench=one)
    firings(laboratory, 1, ago(days=9), bench=other)
    vessels = one.configuration.vessel, other.configuration.vessel
    for bench, vessel in zip((one, other), reversed(vessels), strict=True):
        configuration = BenchConfiguration.objects.get(bench=bench)
        configuration.pk, configuration._state.adding = None, True
        configuration.since, configuration.vessel = timezone.now() - timedelta(days=5), vessel
        configuration.save()
    firings(laboratory, 2, ago(days=1), bench=other)
    assert (due(one).firings, due(other).firings) == (1, 6)
    assert {part.serial: count for part, count in firings_by_vessel(one)} == {
        "vessel-B1": 6,
        "vessel-B2": 1,
    }


def test_a_new_head_does_not_reset_what_the_vessel_has_fired(laboratory: Laboratory) -> None:
    seals()
    firings(laboratory, 4, ago(days=9))
    head_changed(laboratory)
    assert due(laboratory.bench).firings == 4


def test_a_plan_for_one_part_is_for_no_other(laboratory: Laboratory) -> None:
    vessel = laboratory.bench.configuration.vessel
    seals(part=vessel, part_kind="")
    found = services_of([laboratory.bench, laboratory.other_bench])
    assert [service.part for service in found[laboratory.bench.pk]] == [vessel]
    assert laboratory.other_bench.pk not in found


def test_a_plan_no_longer_in_use_asks_for_nothing(laboratory: Laboratory) -> None:
    seals(in_use=False)
    assert services_of([laboratory.bench]) == {}


def test_the_most_urgent_comes_first(laboratory: Laboratory) -> None:
    seals(words="proof test", every_firings=1000)
    seals()
    seals(words="stirrer belt", part_kind="stirrer", every_firings=100)
    firings(laboratory, 12, ago(days=1))
    services = services_of([laboratory.bench])[laboratory.bench.pk]
    assert [service.plan.words for service in services] == [
        "new seals", "stirrer belt", "proof test",
    ]  # fmt: skip
    assert {service.firings for service in services} == {12}


def test_more_benches_plans_and_firings_take_no_more_queries(laboratory: Laboratory) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            upkeep_of(list(Bench.objects.all()))
        return len(caught)

    seals()
    firings(laboratory, 3, ago(days=1))
    with_two = queries()
    for code in ("B3", "B4", "B5", "B6"):
        bench = bench_with_configuration(code, laboratory.coordinator)
        firings(laboratory, 3, ago(days=1), bench=bench)
    seals(words="proof test", every_days=1800)
    assert queries() == with_two
    assert Run.objects.count() == 15

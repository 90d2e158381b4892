"""The bench log: on the bench's page, its own page, the benches' tiles and the students' page."""

from __future__ import annotations

import pytest
from django.test import Client
from django.utils import timezone

from labbook.actions import bench_log
from labbook.models import BenchEvent, ServicePlan

from ..bench_log import ago, firings, seals
from ..conftest import Laboratory, head_changed
from .conftest import HTMX

LOG = "/benches/B1/log/"


def html(client: Client, path: str) -> str:
    response = client.get(path)
    assert response.status_code == 200
    return response.content.decode()


def moment() -> str:
    return f"{timezone.localtime():%Y-%m-%dT%H:%M}"


def test_the_bench_page_says_what_is_due_what_is_wrong_and_what_was_fired(
    laboratory: Laboratory, assistant: Client
) -> None:
    seals()
    firings(laboratory, 56, ago(days=2))
    bench_log.report_fault(laboratory.bench, "lid <cracked>", by=laboratory.group)
    page = html(assistant, "/benches/B1/")
    assert "state-due-soon" in page and "56 of 60 firings since combustion vessel" in page
    assert "lid &lt;cracked&gt;" in page and "56 firings in all" in page
    assert "Report a fault" in page and "Take out of service" in page


def test_a_tile_shows_what_is_nearest_and_only_that(
    laboratory: Laboratory, assistant: Client
) -> None:
    seals()
    seals(words="proof test", done_words="the proof test", every_firings=5000)
    firings(laboratory, 7, ago(days=2))
    bench_log.report_fault(laboratory.bench, "lid cracked", by=laboratory.group)
    page = html(assistant, "/benches/")
    assert "7 of 60 firings since" in page and "of 5000" not in page
    assert "1 open fault" in page and "state-overdue" not in page
    firings(laboratory, 53, ago(days=1))
    assert "state-overdue" in html(assistant, "/benches/")


def test_a_fault_is_reported_and_the_bench_taken_out_in_two_posts(
    laboratory: Laboratory, assistant: Client
) -> None:
    response = assistant.post(f"{LOG}fault/", {"words": "hose leaks"})
    assert (response.status_code, response["Location"]) == (302, LOG)
    assert assistant.post(f"{LOG}out-of-service/", {"words": "hose"}).status_code == 302
    page = html(assistant, LOG)
    assert "hose leaks" in page and "state-out-of-service" in page and "1 fault is still" in page
    assistant.post(f"{LOG}back-in-service/", {"words": "hose changed"})
    assert "state-out-of-service" not in html(assistant, LOG)


@pytest.mark.parametrize(("deed", "kind"), [("fault", "fault"), ("near-miss", "near miss")])
def test_a_group_reports_from_its_own_page(
    laboratory: Laboratory, group: Client, deed: str, kind: str
) -> None:
    assert "/benches/B1/log/fault/" in html(group, "/afternoon/")
    response = group.post(f"{LOG}{deed}/", {"words": "belt slips"})
    assert (response.status_code, response["Location"]) == (302, "/")
    event = BenchEvent.objects.get()
    assert (event.kind, event.by) == (kind, laboratory.group)
    assert group.post(f"/benches/B2/log/{deed}/", {"words": "not ours"}).status_code == 404


def test_a_group_is_told_what_keeps_its_bench_from_a_run(
    laboratory: Laboratory, group: Client, assistant: Client
) -> None:
    seals()
    firings(laboratory, 62, ago(days=3))
    bench_log.report_fault(laboratory.bench, "lid cracked", by=laboratory.assistant)
    page = html(group, "/afternoon/")
    assert "Overdue on bench B1: new seals. 62 of 60 firings" in page and "lid cracked" in page
    opening = {"bench": "B1", "kind": "standardization"}
    assert group.post("/runs/open/", opening).status_code == 409
    assert "Release the bench for today" in html(assistant, LOG)
    assistant.post(f"{LOG}release/", {"words": "ring is here"})
    page = html(assistant, LOG)
    assert "Release the bench for today" not in page and "Released today by ta" in page
    assert group.post("/runs/open/", opening).status_code == 302


def test_a_mended_fault_and_its_answer_stay_in_the_log(
    laboratory: Laboratory, assistant: Client
) -> None:
    fault = bench_log.report_fault(laboratory.bench, "lid cracked", by=laboratory.group)
    assert f"{LOG}{fault.pk}/mended/" in html(assistant, LOG)
    assert assistant.post(f"{LOG}{fault.pk}/mended/", {"words": "new lid"}).status_code == 302
    page = html(assistant, LOG)
    assert "Answers the fault of" in page and page.count("lid cracked") == 2
    assert f"{LOG}{fault.pk}/mended/" not in page
    assert assistant.post(f"/benches/B2/log/{fault.pk}/mended/").status_code == 404


def test_a_planned_service_is_logged(laboratory: Laboratory, assistant: Client) -> None:
    plan = seals()
    firings(laboratory, 9, ago(days=2))
    sent = {"plan": plan.pk, "at": moment(), "words": "rings size 2"}
    assert assistant.post(f"{LOG}service/", sent).status_code == 302
    page = html(assistant, LOG)
    assert "0 of 60 firings since the seals were changed on" in page and "rings size 2" in page


def test_a_refused_service_keeps_what_was_typed(laboratory: Laboratory, assistant: Client) -> None:
    plan = seals()
    other = seals(part=laboratory.other_bench.configuration.vessel, part_kind="")
    future = {"plan": plan.pk, "at": "2099-01-01T10:00"}
    for sent in ({"plan": plan.pk, "at": "soon"}, {"plan": other.pk, "at": moment()}, {}, future):
        response = assistant.post(f"{LOG}service/", sent | {"words": "rings size 2"})
        page = response.content.decode()
        assert response.status_code == 422
        assert 'value="rings size 2"' in page and "errorlist" in page
    assert "still to come" in page
    part = assistant.post(f"{LOG}service/", future, headers=HTMX)
    assert part.status_code == 422 and "still to come" in part.content.decode()
    assert not BenchEvent.objects.exists()


def test_something_else_is_logged_about_a_part(laboratory: Laboratory, assistant: Client) -> None:
    stirrer = laboratory.bench.configuration.stirrer
    sent = {"kind": "remark", "at": moment(), "words": "squeaks", "part": stirrer.pk}
    assert assistant.post(f"{LOG}entry/", sent).status_code == 302
    assert "stirrer stirrer-B1" in html(assistant, LOG)
    recalibrated = sent | {"kind": "recalibrated"}
    assert assistant.post(f"{LOG}entry/", recalibrated).status_code == 422


def test_the_coordinator_logs_a_recalibration(laboratory: Laboratory, coordinator: Client) -> None:
    assert "thermometer recalibrated: ends the approval" in html(coordinator, LOG)
    sent = {"kind": "recalibrated", "at": moment(), "words": "against the reference"}
    assert coordinator.post(f"{LOG}entry/", sent).status_code == 302
    assert "Thermometer recalibrated</strong>, thermometer thermometer-B1" in html(coordinator, LOG)


def test_the_log_holds_changes_of_parts_and_is_narrowed_to_a_kind(
    laboratory: Laboratory, assistant: Client
) -> None:
    bench_log.report_near_miss(laboratory.bench, "stood over the lid", by=laboratory.group)
    bench_log.log_event(
        laboratory.bench, "remark", "moved", by=laboratory.assistant, at=ago(days=9)
    )
    head_changed(laboratory)
    part = assistant.get(LOG, headers=HTMX).content.decode()
    assert "<html" not in part
    assert part.index("new head") < part.index("stood over") < part.index("moved")
    assert "head-B1 → head head-spare" in part and "logged " in part
    near_misses = assistant.get(f"{LOG}?kind=near+miss", headers=HTMX).content.decode()
    assert "stood over" in near_misses and "moved" not in near_misses
    changes = assistant.get(f"{LOG}?kind=parts", headers=HTMX).content.decode()
    assert "new head" in changes and "stood over" not in changes
    assert "Nothing of this kind" in html(assistant, f"{LOG}?kind=other")


def test_no_deed_without_words_and_no_unknown_deed(assistant: Client) -> None:
    assert assistant.post(f"{LOG}fault/", {"words": " "}).status_code == 409
    assert assistant.post(f"{LOG}delete/").status_code == 404
    assert assistant.post(f"{LOG}99999/mended/").status_code == 404


def test_service_plans_are_set_up(coordinator: Client) -> None:
    sent = {
        "words": "new seals", "done_words": "the seals were changed", "part_kind": "vessel",
        "every_firings": "60", "in_use": "on",
    }  # fmt: skip
    assert coordinator.post("/set-up/service-plans/new/", sent).status_code == 302
    assert str(ServicePlan.objects.get()) == "new seals (combustion vessel)"
    for wrong, said in (
        ({"part_kind": ""}, "a kind of part, or one part"),
        ({"every_firings": ""}, "a number of days, or both"),
        ({"every_firings": "0"}, "1 or more was expected; 0 was typed"),
    ):
        response = coordinator.post("/set-up/service-plans/new/", sent | wrong)
        assert response.status_code == 422 and said in response.content.decode()


def test_set_up_does_not_move_a_bench_out_of_service(
    laboratory: Laboratory, coordinator: Client
) -> None:
    path = f"/set-up/benches/{laboratory.bench.pk}/"
    assert "in_service" not in html(coordinator, path)
    assert coordinator.post(path, {"code": "B1", "place": "window"}).status_code == 302
    laboratory.bench.refresh_from_db()
    assert laboratory.bench.in_service and laboratory.bench.place == "window"

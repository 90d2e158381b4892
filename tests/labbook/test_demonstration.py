"""The demonstration laboratory in a small version: what it holds, and the command that makes it.

There is no outside source for an invented laboratory: values are held against the truth stated in
``fixtures/demonstration/``, within what the scatter stated there allows.
"""

from __future__ import annotations

import socket
from collections import Counter
from collections.abc import Iterator
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.db import transaction
from django.db.models import F
from django.utils import timezone

from labbook.demonstration import logger_files
from labbook.demonstration.afternoons import UNTARED
from labbook.demonstration.build import build, plan_slots
from labbook.demonstration.course_dates import YEAR, term_dates, visits_of
from labbook.demonstration.laboratory import MAKER
from labbook.demonstration.scenario import Plan, Scenario
from labbook.demonstration.sign_ins import sign_ins
from labbook.intake import preview
from labbook.lookups.bench_log import upkeep_of
from labbook.lookups.hand_comparison import comparison_of
from labbook.lookups.issuing import neighbours_alike, places_of
from labbook.lookups.marking import mark_given_to
from labbook.lookups.spread import spread_of
from labbook.management.commands import demo
from labbook.models import (
    Account,
    Bench,
    HandIn,
    LoggerFile,
    ReadingStrike,
    Run,
    Sample,
    Section,
    Standardization,
    Term,
)

pytestmark = [pytest.mark.django_db, pytest.mark.xdist_group("demonstration")]
SMALL = Plan(terms=2, visits=1, groups=4)
LARGEST_SCATTER = 0.004  # of one run's C on an ordinary bench, as afternoons draw it


@pytest.fixture(scope="module")
def laboratory(django_db_setup: None, django_db_blocker: Any) -> Iterator[None]:
    """Built once; what a test changes in it is rolled back after that test."""
    with django_db_blocker.unblock(), transaction.atomic():
        build(SMALL, timezone.now())
        yield
        transaction.set_rollback(True)


def counts() -> dict[str, int]:
    return {model.__name__: model.objects.count() for model in (Account, Bench, Run, Term)}


def test_every_group_has_its_afternoons(laboratory: None) -> None:
    assert counts() | {"Account": 0, "Run": 0} == {"Account": 0, "Bench": 6, "Run": 0, "Term": 2}
    assert Standardization.objects.count() == 16
    assert Run.objects.filter(kind="unknown").count() >= 10
    assert Run.objects.filter(kind="practice").count() == 1


def test_nothing_is_dated_after_the_present(laboratory: None) -> None:
    newest = Run.objects.latest("opened_at").opened_at
    assert timezone.now() - timedelta(hours=1) < newest <= timezone.now()


def test_what_goes_wrong_is_there(laboratory: None) -> None:
    causes = Counter(Run.objects.exclude(cause="").values_list("cause", flat=True))
    assert causes == {"misfire": 1, "soot": 1}
    assert Run.objects.get(cause="misfire").fired_at is not None
    deeds = set(Standardization.objects.values_list("decisions__deed", flat=True))
    assert {"sent back", "withdrawn", "lapsed", "approved"} <= deeds
    unlocked = Run.objects.filter(decisions__deed="unlocked").distinct().get()
    assert unlocked.state == Run.State.SIGNED
    assert ReadingStrike.objects.exclude(reason__startswith="replaced").exists()
    assert Run.objects.filter(entries__reason="burette read again").count() == 1


def test_the_present_afternoon_is_at_four_points(laboratory: None) -> None:
    midway, on_unknown, waiting, finished = (
        Account.objects.get(username=f"m{number}").group for number in (5, 6, 7, 8)
    )
    assert [run.state for run in midway.runs.order_by("pk")] == ["complete", "complete", "open"]
    open_run = midway.runs.get(state="open")
    assert 4 <= sum(block.count for block in open_run.blocks.all()) < 20
    assert open_run.entries.exists() and not open_run.entries.filter(field="oxygen_atm").exists()
    unknown = on_unknown.runs.get(kind="unknown")
    assert unknown.state == "open"
    assert unknown.rests_on == on_unknown.standardizations.get(state="approved")
    assert waiting.standardizations.get().state == "put forward"
    assert not finished.runs.filter(state__in=["open", "fired"]).exists()


def test_approved_values_lie_around_the_truth(laboratory: None) -> None:
    """Each mean within 3.5 standard deviations of a mean, and never far off on any bench."""
    scenario, started = Scenario(), Bench.objects.first().configurations.last().since
    truths = {truth.code: truth for truth in scenario.benches}
    for approved in Standardization.objects.filter(approved_at__isnull=False):
        truth = truths[approved.bench.code]
        has_changed = approved.configuration.reason != "Set up for the course."
        years = (approved.opened_at - started) / YEAR
        true = truth.true_heat_capacity(years, has_changed)
        if approved.state == Standardization.State.WITHDRAWN:
            true *= UNTARED
        allowed = 3.5 * LARGEST_SCATTER * truth.scatter_factor / np.sqrt(approved.approved_n)
        assert approved.approved_c_j_per_k == pytest.approx(true, rel=allowed + 0.0005)


def test_the_stepping_bench_has_stepped(laboratory: None) -> None:
    bench = Bench.objects.get(code="B4")
    after, before = bench.configurations.order_by("-since")
    assert (after.head.serial, before.head.serial) == ("H-2214b", "H-2214")
    assert after.reason.startswith("Head changed")
    states = set(before.standardization_set.values_list("state", flat=True))
    assert states == {"lapsed"}
    means = [
        np.mean([s.approved_c_j_per_k for s in side.standardization_set.exclude(approved_n=None)])
        for side in (before, after)
    ]
    assert means[1] / means[0] == pytest.approx(1.012, abs=0.006)


def test_the_seals_of_one_bench_are_due_soon_and_no_bench_is_held_back(laboratory: None) -> None:
    benches = list(Bench.objects.all())
    found = {bench.code: upkeep for bench in benches for upkeep in [upkeep_of(benches)[bench.pk]]}
    seals = {
        code: next(service for service in upkeep.services if service.plan.words == "new seals")
        for code, upkeep in found.items()
    }
    assert [code for code, service in seals.items() if service.state == "due soon"] == ["B2"]
    assert not any(upkeep.overdue for upkeep in found.values())
    assert all(bench.in_service for bench in benches)
    assert [code for code, upkeep in found.items() if upkeep.faults] == ["B1"]


def test_the_head_was_changed_because_of_a_fault_that_was_logged(laboratory: None) -> None:
    bench = Bench.objects.get(code="B4")
    changed = bench.configurations.latest("since").since
    story = bench.events.filter(
        at__range=(changed - timedelta(days=7), changed + timedelta(days=7))
    )
    kinds = [event.kind for event in story.order_by("at", "pk")]
    assert kinds == [
        "fault", "out of service", "fault mended", "service", "back in service",
    ]  # fmt: skip


def test_benches_are_as_they_are_told() -> None:
    """The drifting, the stepping, the noisy and the three sound ones."""
    benches = {truth.code: truth for truth in Scenario().benches}
    grown = {
        code: truth.true_heat_capacity(2.0, True) / truth.true_heat_capacity(0.0, False)
        for code, truth in benches.items()
    }
    assert grown == pytest.approx({"B1": 1, "B2": 1.012, "B3": 1, "B4": 1.012, "B5": 1, "B6": 1})
    assert benches["B2"].true_heat_capacity(1.0, False) > benches["B2"].true_heat_capacity(0, False)
    assert [code for code, truth in benches.items() if truth.scatter_factor == 3.0] == ["B6"]


def test_samples_are_revealed_when_their_term_has_ended(laboratory: None) -> None:
    past, present = Term.objects.order_by("starts")
    assert not Sample.objects.filter(term=past, revealed_at=None).exists()
    assert Sample.objects.filter(term=present, revealed_at__isnull=False).count() == 1
    assert Sample.objects.filter(term=present, revealed_at=None).exists()
    molar = Run.objects.filter(sample__term=past).values_list("result__dch_kj_per_mol", flat=True)
    assert all(value is not None for value in molar)


def test_neighbours_hold_different_samples(laboratory: None) -> None:
    for section in Section.objects.all():
        places = places_of(section)
        assert all(place.holds for place in places)
        assert neighbours_alike(places) == []
    mismatched = Run.objects.filter(sample__isnull=False).exclude(group__issues__sample=F("sample"))
    assert not mismatched.exists()


def test_one_hand_in_is_marked_by_both_tas_and_given_out_and_one_waits(laboratory: None) -> None:
    first, second = HandIn.objects.order_by("at")
    assert spread_of(first).words.startswith("2 markers, 12 to 14 of 20. They differ on")
    given = mark_given_to(first.group)
    assert given is not None and given.mark.by in first.group.section.assistants.all()
    assert not second.marks.exists() and second.group.section != first.group.section
    waiting = {row.name: row.waiting for row in sign_ins(Scenario()) if row.name.startswith("ta-")}
    assert sorted("1 hand-in to mark" in words for words in waiting.values()) == [False, True]
    assert first.marks.get(by=given.mark.by).out_of == 20


def test_groups_of_past_terms_are_out(laboratory: None) -> None:
    past = Term.objects.earliest("starts")
    assert not Account.objects.filter(group__section__term=past, is_active=True).exists()
    assert {row.role for row in sign_ins(Scenario())} == {
        "student group", "teaching assistant", "coordinator",
    }  # fmt: skip
    one_of_each = {row.role: row for row in sign_ins(Scenario())}
    for row in one_of_each.values():
        assert Account.objects.get(username=row.name).check_password(row.password)


def test_every_dialect_of_logger_files_was_handed_in(laboratory: None) -> None:
    firsts = {bytes(file.content)[:12] for file in LoggerFile.objects.all()}
    assert len(firsts) == len(logger_files.WRITERS)


@pytest.mark.parametrize("dialect", range(len(logger_files.WRITERS)))
def test_logger_files_are_read_back_as_written(dialect: int) -> None:
    rows = [(5.0 * i, f"{23 + 0.013 * i:.3f}") for i in range(40)]
    started = timezone.now().replace(hour=13, minute=58, second=40)
    _, content = logger_files.logger_file(dialect, rows, started)
    found = preview(content)
    assert found.questions == ()
    assert np.array(found.readings) == pytest.approx(np.array([(t, float(c)) for t, c in rows]))


@pytest.mark.parametrize("day", [date(2026, 1, 31), date(2028, 2, 29), date(2026, 7, 3)])
def test_terms_lead_up_to_today(day: date) -> None:
    terms = term_dates(5, day)
    assert terms[-1].middle == day
    assert len({term.name for term in terms}) == 5
    for earlier, later in pairwise(terms):
        assert earlier.ends < later.starts
        assert earlier.middle.weekday() == day.weekday()
    days = [visit.day for visit in visits_of(4, day, 3)]
    assert days == sorted(days) and terms[-1].starts <= days[0] and days[-1] == day


def test_the_command_run_again_adds_nothing(laboratory: None) -> None:
    before = counts()
    call_command("demo", no_serve=True)
    assert counts() == before


def test_a_demonstration_built_on_an_earlier_day_says_how_to_build_it_anew(
    laboratory: None, capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("demo", no_serve=True)
    assert "--fresh" not in capsys.readouterr().out
    built_on = timezone.localdate()
    with time_machine.travel(timezone.now() + timedelta(days=3)):
        call_command("demo", no_serve=True)
    told = f"Its present is {built_on:%-d %B %Y}, the day it was built."
    printed = capsys.readouterr().out
    assert told in printed and "manage.py demo --fresh" in printed


def test_one_value_of_the_drifting_bench_is_far_off_in_the_term_going_on() -> None:
    day, truths = date(2026, 7, 3), Scenario().benches
    slots = plan_slots(Plan(), term_dates(Plan().terms, day))
    (number,) = Scenario().laboratory["incidents"]["outside"]
    (slot,) = (slot for slot in slots if slot.number == number)
    assert truths[(number - 1) % len(truths)].drift_per_year > 0
    assert slot.visit.term == Plan().terms - 1 and slot.visit.day < day


def test_fresh_builds_anew(
    laboratory: None, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(demo.Command, "plan", Plan(terms=1, visits=1, groups=1))
    call_command("demo", no_serve=True, fresh=True)
    printed = capsys.readouterr()
    assert Term.objects.count() == 1
    assert "m1  " in printed.out and "ta-" in printed.out and "steady-bucket-10" in printed.out
    assert "100%" in printed.err
    before = counts()
    call_command("demo", no_serve=True)
    assert counts() == before


def test_an_interrupted_build_leaves_what_was_there(
    laboratory: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(slots: list[object]) -> Iterator[object]:
        yield slots[0]
        raise KeyboardInterrupt

    before = counts()
    monkeypatch.setattr(demo, "_follow", interrupted)
    with pytest.raises(CommandError, match="nothing was kept"):
        call_command("demo", no_serve=True, fresh=True)
    assert counts() == before


def test_another_laboratory_is_left_alone(laboratory: None) -> None:
    Account.objects.filter(username=MAKER).update(username="somebody")
    before = counts()
    for fresh in (False, True):
        with pytest.raises(CommandError, match="did not make") as refusal:
            call_command("demo", no_serve=True, fresh=fresh)
        assert refusal.value.returncode == 2
    assert counts() == before


def test_a_demonstration_that_was_added_to_is_not_built_anew(laboratory: None) -> None:
    Bench.objects.create(code="B7")
    with pytest.raises(CommandError, match="bench B7") as refusal:
        call_command("demo", no_serve=True, fresh=True)
    assert refusal.value.returncode == 2
    assert Bench.objects.count() == 7


def test_a_taken_port_is_told_before_anything_is_built() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(CommandError, match="in use by another program") as refusal:
            call_command("demo", port=taken.getsockname()[1])
    assert refusal.value.returncode == 2


def test_the_term_going_on_has_its_runs_worked_by_hand_first(laboratory: None) -> None:
    past, present = Term.objects.order_by("starts")
    assert (past.ours_unlock, present.ours_unlock) == ("at once", "hand figures")
    worked = Run.objects.filter(hand_figures_saved__isnull=False)
    assert set(worked.values_list("group__section__term", flat=True)) == {present.pk}
    midway = Account.objects.get(username="m5").group
    assert worked.filter(group=midway).count() == 1
    coordinator = Account.objects.filter(role="coordinator").first()
    named = Counter()
    for run in worked:
        found = comparison_of(run, coordinator)
        assert found is not None
        named[found.first and (found.first.key, found.first.code)] += 1
    forgotten = named.pop(("du", "sign"))
    assert forgotten >= 1 and named[None] == worked.count() - forgotten

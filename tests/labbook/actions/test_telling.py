"""Mail to the coordinators when benches stand differently: off by default, one for all benches."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.core import mail
from django.utils import timezone

from labbook.actions.history import exclude_point
from labbook.actions.standardizations import approve, withdraw
from labbook.lookups.standardizations import summary_of
from labbook.models import Standardization

from ..conftest import Laboratory
from ..conftest import put_forward as put_forward_by
from ..histories import SOUND, approved_values


def reachable(lab: Laboratory) -> None:
    lab.coordinator.email = "coordinator@college.example"
    lab.coordinator.save()


def mails_of(lab: Laboratory, capture: Any) -> list[Any]:
    reachable(lab)
    found = put_forward_by(lab)
    summary = summary_of(found)
    past = [summary.replicates.mean - 200.0 + value - 10_100.0 for value in SOUND]
    approved_values(lab, past, newest=timezone.now() - timedelta(days=3))
    with capture(execute=True):
        approve(found, by=lab.assistant, seen=summary.seen, reason="masses checked")
    return mail.outbox


def test_coordinators_are_mailed_when_a_bench_stands_differently(
    laboratory: Laboratory, settings: Any, django_capture_on_commit_callbacks: Any
) -> None:
    settings.LABBOOK_MAIL_STANDING = True
    (sent,) = mails_of(laboratory, django_capture_on_commit_callbacks)
    assert sent.to == ["coordinator@college.example"]
    assert sent.subject == "Bench B1: watch"
    assert "(before: steady)" in sent.body and "was expected" in sent.body
    newest = Standardization.objects.filter(bench=laboratory.bench).latest("approved_at")
    with django_capture_on_commit_callbacks(execute=True):
        withdraw(newest, "wrong lot after all", by=laboratory.assistant)
    assert [row.subject for row in mail.outbox[1:]] == ["Bench B1: steady"]


def test_one_mail_tells_of_another_bench_judged_by_the_same_scatter(
    laboratory: Laboratory, settings: Any, django_capture_on_commit_callbacks: Any
) -> None:
    settings.LABBOOK_MAIL_STANDING = True
    reachable(laboratory)
    wild = approved_values(laboratory, [SOUND[0], 12_000.0, *SOUND[2:]])[1]
    approved_values(laboratory, [*SOUND, 10_300.0], bench=laboratory.other_bench)
    with django_capture_on_commit_callbacks(execute=True):
        exclude_point(wild, "soot in the crucible", by=laboratory.coordinator)
    (sent,) = mail.outbox
    assert sent.subject == "Bench B2: watch"
    assert "(before: steady)" in sent.body and "was expected" in sent.body
    assert "None of its own values changed" in sent.body


def test_one_mail_names_every_bench_that_stands_differently(
    laboratory: Laboratory, settings: Any, django_capture_on_commit_callbacks: Any
) -> None:
    settings.LABBOOK_MAIL_STANDING = True
    reachable(laboratory)
    wild = approved_values(laboratory, [SOUND[0], 12_000.0, *SOUND[2:], 10_300.0])[1]
    approved_values(laboratory, [*SOUND, 10_300.0], bench=laboratory.other_bench)
    with django_capture_on_commit_callbacks(execute=True):
        exclude_point(wild, "soot in the crucible", by=laboratory.coordinator)
    (sent,) = mail.outbox
    assert sent.subject == "Bench B1: watch; bench B2: watch"
    first, second = sent.body.split("Bench B2: watch (before: steady).")
    assert first.startswith("Bench B1: watch (before: steady).")
    assert "None of its own values" in second and "None of its own values" not in first


def test_no_mail_unless_it_is_switched_on(
    laboratory: Laboratory, settings: Any, django_capture_on_commit_callbacks: Any
) -> None:
    assert settings.LABBOOK_MAIL_STANDING is False
    assert mails_of(laboratory, django_capture_on_commit_callbacks) == []


def test_mail_that_cannot_be_sent_undoes_nothing(
    laboratory: Laboratory, settings: Any, django_capture_on_commit_callbacks: Any
) -> None:
    settings.LABBOOK_MAIL_STANDING = True
    settings.EMAIL_BACKEND = "nowhere.to.be.Found"
    mails_of(laboratory, django_capture_on_commit_callbacks)
    newest = Standardization.objects.filter(bench=laboratory.bench).latest("approved_at")
    assert newest.state == "approved"

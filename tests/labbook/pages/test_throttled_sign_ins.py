"""Wrong passwords hold one name at one address for a while; wrong tokens are not endless."""

from __future__ import annotations

from datetime import timedelta

import pytest
import time_machine
from axes.models import AccessAttempt, AccessFailureLog
from django.conf import settings
from django.test import Client
from django.utils import timezone

from labbook.actions.devices import make_device
from labbook.lookups.sign_ins import MOST_WRONG_TOKENS, failed_since

from ..conftest import Laboratory, signed_in

PASSWORD = "a long phrase"
LIMIT = settings.AXES_FAILURE_LIMIT


@pytest.fixture(autouse=True)
def quick_passwords(settings: object) -> None:
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture
def lab(laboratory: Laboratory) -> Laboratory:
    lab = laboratory
    for account in (lab.group, lab.stranger, lab.assistant, lab.coordinator):
        account.set_password(PASSWORD)
        account.save()
    return laboratory


def attempt(name: str, password: str = "wrong", at: str = "10.0.0.5") -> object:
    sent = {"username": name, "password": password}
    return Client(REMOTE_ADDR=at).post("/sign-in/", sent)


def held(name: str, at: str = "10.0.0.5") -> None:
    for _ in range(LIMIT):
        attempt(name, at=at)


def test_after_some_wrong_passwords_the_right_one_has_to_wait_too(lab: Laboratory) -> None:
    statuses = [attempt("m1").status_code for _ in range(LIMIT)]
    assert statuses == [200] * (LIMIT - 1) + [429]
    response = attempt("m1", PASSWORD)
    html = response.content.decode()
    assert response.status_code == 429 and "in 15 minutes" in html
    assert response["Retry-After"] == str(15 * 60)
    assert "_auth_user_id" not in response.client.session


def test_neither_another_name_at_that_pc_nor_that_name_elsewhere_is_held(lab: Laboratory) -> None:
    held("m1")
    assert attempt("f1", PASSWORD).status_code == 302
    assert attempt("ta", PASSWORD).status_code == 302
    assert attempt("m1", PASSWORD, at="10.0.0.6").status_code == 302


def test_another_way_of_writing_the_name_is_the_same_name(lab: Laboratory) -> None:
    for name in ("m1", "M1", " m1 ", "m1") * 2:
        attempt(name)
    assert attempt("M1", PASSWORD).status_code == 429


def test_who_is_signed_in_stays_so(lab: Laboratory) -> None:
    there = signed_in(lab.group)
    held("m1", at="127.0.0.1")
    assert there.get("/afternoon/").status_code == 200


def test_it_ends_by_itself(lab: Laboratory) -> None:
    held("m1")
    with time_machine.travel(timezone.now() + timedelta(minutes=14)):
        assert attempt("m1", PASSWORD).status_code == 429
    with time_machine.travel(timezone.now() + timedelta(minutes=15, seconds=5)):
        assert attempt("m1", PASSWORD).status_code == 302


def test_waiting_is_not_made_longer_by_trying(lab: Laboratory) -> None:
    held("m1")
    with time_machine.travel(timezone.now() + timedelta(minutes=10)):
        assert "in 5 minutes" in attempt("m1").content.decode()
    with time_machine.travel(timezone.now() + timedelta(minutes=16)):
        assert attempt("m1", PASSWORD).status_code == 302


def test_a_right_password_starts_the_count_anew(lab: Laboratory) -> None:
    for _ in range(3):
        for _ in range(LIMIT - 1):
            assert attempt("m1").status_code == 200
        assert attempt("m1", PASSWORD).status_code == 302


def test_a_coordinator_lifts_it(lab: Laboratory) -> None:
    held("m1")
    coordinator = signed_in(lab.coordinator)
    html = coordinator.get("/sign-ins/").content.decode()
    assert "Held after wrong passwords: 1" in html and "10.0.0.5" in html
    sent = {"name": "m1", "at": "10.0.0.5"}
    assert coordinator.post("/sign-ins/lift/", sent).status_code == 302
    assert attempt("m1", PASSWORD).status_code == 302
    assert coordinator.post("/sign-ins/lift/", sent).status_code == 409
    assert signed_in(lab.assistant).post("/sign-ins/lift/", sent).status_code == 403


def test_the_address_is_the_one_the_own_proxy_saw(lab: Laboratory, settings: object) -> None:
    """RFC 7239, 8.1, of such headers: only what one's own proxies wrote can be trusted."""
    settings.BEHIND_TLS, settings.SECURE_SSL_REDIRECT = True, False
    sent = {"username": "m1", "password": "wrong"}
    for number in range(LIMIT):
        forwarded = f"203.0.113.{number}, 10.0.0.5"
        Client(headers={"X-Forwarded-For": forwarded}).post("/sign-in/", sent)
    assert set(AccessAttempt.objects.values_list("ip_address", flat=True)) == {"10.0.0.5"}


def test_what_is_kept_of_it_holds_no_password_and_goes_after_a_week(lab: Laboratory) -> None:
    attempt("my-secret-phrase", "another-secret")
    kept = [*AccessAttempt.objects.values_list(), *AccessFailureLog.objects.values_list()]
    assert "secret" not in str(kept)
    assert failed_since(timezone.now() - timedelta(days=1)).count() == 1
    with time_machine.travel(timezone.now() + timedelta(days=8)):
        attempt("m1", PASSWORD)
        assert not AccessFailureLog.objects.exists() and not AccessAttempt.objects.exists()


def test_wrong_tokens_are_told_to_wait_and_right_ones_are_served(lab: Laboratory) -> None:
    _, token = make_device(lab.bench, "logger", by=lab.coordinator)
    wrong = Client(headers={"Authorization": "Bearer nonsense"})
    given = [wrong.get("/api/v1/ping").status_code for _ in range(MOST_WRONG_TOKENS + 1)]
    assert given == [401] * MOST_WRONG_TOKENS + [429]
    assert "Retry-After" in wrong.get("/api/v1/ping").headers
    right = Client(headers={"Authorization": f"Bearer {token}"})
    assert right.get("/api/v1/ping").status_code == 200
    with time_machine.travel(timezone.now() + timedelta(minutes=11)):
        assert wrong.get("/api/v1/ping").status_code == 401
    assert failed_since(timezone.now() - timedelta(days=1)).count() == 0

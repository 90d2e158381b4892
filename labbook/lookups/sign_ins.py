"""Who tried to sign in and failed: held names, wrong tokens, what a status page counts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from axes.models import AccessAttempt, AccessFailureLog
from django.conf import settings
from django.db.models import Max, QuerySet, Sum
from django.http import HttpRequest
from django.utils.crypto import salted_hmac

from .. import clock
from ..models import Account

# A wrong token is kept under this, which is no sign-in name.
TOKEN = "(token)"
MOST_WRONG_TOKENS = 60
WRONG_TOKENS_WITHIN = timedelta(minutes=10)


def name_tried(request: HttpRequest, credentials: dict[str, Any] | None) -> str:
    """The sign-in name that failures count against; of a name nobody has, a mark that hides it.

    A password typed into the wrong field is kept nowhere.
    """
    typed = (credentials or {}).get("username") or request.POST.get("username", "")
    name = str(typed).strip().lower()
    if Account.objects.filter(username=name).exists():
        return name
    return f"unknown {salted_hmac('labbook.sign_in', name).hexdigest()[:8]}"


@dataclass(frozen=True)
class Held:
    """A sign-in name that may not be tried from an address for a while."""

    username: str
    ip_address: str
    tries: int
    until: datetime

    @property
    def minutes(self) -> int:
        return max(1, -(-int((self.until - clock.now()).total_seconds()) // 60))


def held_sign_ins() -> list[Held]:
    """Names held now, each with the address they are held at, the latest first."""
    since = clock.now() - settings.AXES_COOLOFF_TIME
    rows = (
        AccessAttempt.objects.filter(attempt_time__gt=since)
        .values("username", "ip_address")
        .annotate(tries=Sum("failures_since_start"), latest=Max("attempt_time"))
        .filter(tries__gte=settings.AXES_FAILURE_LIMIT)
        .order_by("-latest")
    )
    return [
        Held(
            row["username"],
            row["ip_address"],
            row["tries"],
            row["latest"] + settings.AXES_COOLOFF_TIME,
        )
        for row in rows
    ]


def held_sign_in(username: str, ip_address: str) -> Held | None:
    found = (one for one in held_sign_ins() if one.username == username)
    return next((one for one in found if one.ip_address == ip_address), None)


def failed_since(moment: datetime) -> QuerySet[AccessFailureLog]:
    """Sign-ins that failed since then; kept for ``actions.sign_ins.FAILURES_KEPT`` only."""
    failures = AccessFailureLog.objects.filter(attempt_time__gte=moment)
    found: QuerySet[AccessFailureLog] = failures.exclude(username=TOKEN)
    return found


def is_guessing_tokens(ip_address: str) -> bool:
    """Whether an address sent so many wrong tokens that it has to wait."""
    since = clock.now() - WRONG_TOKENS_WITHIN
    wrong = AccessFailureLog.objects.filter(
        username=TOKEN, ip_address=ip_address, attempt_time__gte=since
    )
    return int(wrong.count()) >= MOST_WRONG_TOKENS

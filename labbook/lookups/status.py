"""How the record itself stands: what a coordinator or an administrator should look at today."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.utils import timezone

from .. import guards
from ..access import require
from ..models import Account, Device, Run, Upkeep
from ..typesetting.durations import ago
from ..typesetting.sizes import written_size
from . import machine
from .devices import UNFINISHED, clock_words, when_heard
from .sign_ins import failed_since
from .versions import missing_migrations, newest_migration, record_version

FINE, LOOK, BAD, UNKNOWN = "fine", "look", "bad", "not known"
LEAST_ROOM, LITTLE_ROOM = 500e6, 5e9
BACKUP_OVERDUE, VERIFY_OVERDUE = timedelta(days=2), timedelta(days=35)
BACK = timedelta(seconds=5)
MANY_FAILED = 30
SILENT = timedelta(minutes=2)
OFF_BY_S = 2.0


@dataclass(frozen=True)
class Standing:
    """One thing that is looked after: how it stands, in words, and what to do about it.

    ``code`` names it for programs; ``said`` are further sentences.
    """

    code: str
    title: str
    state: str
    words: str
    advice: str = ""
    said: tuple[str, ...] = ()


def status(account: Account) -> list[Standing]:
    """Everything, the gravest first; for those who keep the record."""
    require(account, "keep the record")
    return status_of_record()


def status_of_record() -> list[Standing]:
    """The same for the machine's own account: commands and timers."""
    order = (BAD, LOOK, UNKNOWN, FINE)
    found = [look() for look in (*VITAL, *WATCHED)]
    return sorted(found, key=lambda one: order.index(one.state))


@dataclass(frozen=True)
class Health:
    """For a program that asks every few seconds. ``status`` is pass, warn or fail."""

    status: str
    codes: list[str]


def health() -> Health:
    """Whether the record can be worked with, from a few cheap questions.

    What is vital fails; a backup that is overdue warns, since the record can still be used.
    """
    failing = _codes(look() for look in VITAL)
    if failing["bad"]:
        return Health("fail", failing["bad"])
    late = _codes([last_backup()])
    warnings = [*failing["look"], *late["bad"], *late["look"]]
    return Health("warn" if warnings else "pass", warnings)


def _codes(found: Iterable[Standing]) -> dict[str, list[str]]:
    codes: dict[str, list[str]] = {BAD: [], LOOK: [], UNKNOWN: [], FINE: []}
    for one in found:
        codes[one.state].append(one.code)
    return codes


def disk() -> Standing:
    room = machine.room_on_disk()
    words = (
        f"{written_size(room.free)} of {written_size(room.total)} are free where the data are; "
        f"the database takes {written_size(machine.database_bytes())}."
    )
    if room.free < LEAST_ROOM:
        state, advice = BAD, "Make room now: a full disk refuses readings."
    elif room.free < LITTLE_ROOM:
        state, advice = LOOK, "Make room soon, or keep backups on another disk."
    else:
        state, advice = FINE, ""
    return Standing("disk", "Room on the disk", state, words, advice, (_lasts(room.free),))


def _lasts(free: float) -> str:
    """How long the room lasts, as far as backups show how the database grows."""
    grown = machine.growth()
    if grown is None:
        return "How long it lasts is not known yet: that takes two backups a week apart."
    over = f"over the {grown.days:.0f} days between backups"
    if grown.bytes_a_day <= 0:
        return f"The database did not grow {over}."
    days = free / grown.bytes_a_day
    lasts = "more than 10 years" if days > 3650 else f"about {days:,.0f} days"
    return (
        f"The database grew by {written_size(grown.bytes_a_day)} a day {over}; at that pace "
        f"alone the room lasts {lasts}."
    )


def migrations() -> Standing:
    missing = missing_migrations()
    if missing:
        words = f"{len(missing)} not applied yet, the first is {missing[0]}."
        return Standing(
            "migrations", "Tables of the database", BAD, words, "Run “manage.py migrate”."
        )
    return Standing(
        "migrations",
        "Tables of the database",
        FINE,
        f"As this version needs: {newest_migration()}.",
    )


def evidence_guards() -> Standing:
    missing = guards.missing_guards()
    title = "Guards of the evidence"
    if missing:
        words = f"{len(missing)} are gone, the first is {missing[0]}."
        advice = "Run “manage.py migrate”, then “manage.py verify”, and ask who took them away."
        return Standing("guards", title, BAD, words, advice)
    return Standing("guards", title, FINE, "The database refuses changes to evidence.")


def last_backup() -> Standing:
    title = "Last backup"
    newest = Upkeep.objects.filter(kind=Upkeep.Kind.BACKUP).first()
    good = Upkeep.objects.filter(kind=Upkeep.Kind.BACKUP, is_fine=True).first()
    if newest is None:
        advice = "Run “manage.py backup --to FOLDER”, and have a timer do it every night."
        return Standing("backup", title, BAD, "There is none.", advice)
    if good is None:
        return Standing("backup", title, BAD, "None was good.", "See why, and run it again.",
                        (_told(newest),))  # fmt: skip
    age = timezone.now() - good.at
    words = f"{ago(age)} ago, {_where(good)}. {good.words}"
    said = () if newest.pk == good.pk else (f"A later one failed: {_told(newest)}",)
    if age > BACKUP_OVERDUE:
        return Standing("backup", title, BAD, words, "Run “manage.py backup” and see why the "
                        "timer did not.", said)  # fmt: skip
    return Standing("backup", title, LOOK if said else FINE, words, said=said)


def _where(backup: Upkeep) -> str:
    details = backup.details
    file = Path(details.get("folder", ""), details.get("file", ""))
    size = f" ({written_size(details['size'])})" if "size" in details else ""
    gone = "" if file.exists() else ", where it is no longer"
    return f"in {file.parent} as {file.name}{size}{gone}"


def _told(upkeep: Upkeep) -> str:
    return f"{timezone.localtime(upkeep.at):%-d %B %Y, %H:%M}: {upkeep.words}"


def last_verification() -> Standing:
    title, code = "Last verification of the evidence", "verify"
    newest = Upkeep.objects.filter(kind=Upkeep.Kind.VERIFY).first()
    if newest is None:
        advice = "Run “manage.py verify”, or press the button below."
        return Standing(code, title, LOOK, "There was none yet.", advice)
    age = timezone.now() - newest.at
    words = f"{ago(age)} ago. {newest.words}"
    if not newest.is_fine:
        advice = "“manage.py verify” names the first break of each book."
        return Standing(code, title, BAD, words, advice)
    if age > VERIFY_OVERDUE:
        return Standing(code, title, LOOK, words, "Once a month is due.")
    return Standing(code, title, FINE, words)


def verifying_takes_s() -> float | None:
    """How long the last verification took; None where that is not known."""
    newest = Upkeep.objects.filter(kind=Upkeep.Kind.VERIFY, details__has_key="seconds").first()
    return None if newest is None else float(newest.details["seconds"])


def clocks() -> Standing:
    now, newest, title = timezone.now(), machine.newest_stamp(), "Clock"
    words = f"This server has {timezone.localtime(now):%-d %B %Y, %H:%M:%S} ({settings.TIME_ZONE})."
    said = tuple(_of_the_database(machine.database_clock_ahead_s()))
    if newest is not None and newest - now > BACK:
        sentence = (
            f"The clock went back: something was written at "
            f"{timezone.localtime(newest):%-d %B %Y, %H:%M:%S}, which is {ago(newest - now)} ahead."
        )
        advice = "Set the clock right before anything more is recorded."
        return Standing("clock", title, BAD, words, advice, (sentence, *said))
    ahead = machine.database_clock_ahead_s() or 0.0
    if abs(ahead) > OFF_BY_S:
        return Standing("clock", title, LOOK, words, "Let one time service keep both.", said)
    kept = machine.is_clock_kept()
    if kept:
        return Standing("clock", title, FINE, f"{words} A time service keeps it.", said=said)
    state = UNKNOWN if kept is None else LOOK
    doubt = "Whether a time service keeps it is not known." if kept is None else (
        "No time service keeps it."
    )  # fmt: skip
    return Standing("clock", title, state, f"{words} {doubt}", "Let a time service keep it "
                    "(systemd-timesyncd, chrony).", said)  # fmt: skip


def _of_the_database(ahead: float | None) -> Iterable[str]:
    if ahead is None:
        yield "The database is on this machine and has no clock of its own."
    elif abs(ahead) < OFF_BY_S:
        yield "The database server’s clock agrees within 2 s."
    else:
        which = "ahead of" if ahead > 0 else "behind"
        yield f"The database server’s clock is {abs(ahead):.0f} s {which} this one."


def failed_sign_ins() -> Standing:
    title, code = "Failed sign-ins", "sign_ins"
    failures = failed_since(timezone.now() - timedelta(days=1))
    count, addresses = failures.count(), failures.values("ip_address").distinct().count()
    if not count:
        return Standing(code, title, FINE, "None in the last day.")
    words = f"{count} in the last day, from {addresses} address{'' if addresses == 1 else 'es'}."
    if count < MANY_FAILED:
        return Standing(code, title, FINE, words)
    return Standing(code, title, LOOK, words, "Many: somebody may be trying passwords.")


def devices() -> Standing:
    """Devices in use; one that a run listens to and that is silent is worth a look."""
    title, code = "Devices", "devices"
    in_use = list(Device.objects.filter(revoked_at=None).select_related("bench"))
    if not in_use:
        return Standing(code, title, FINE, "No device sends by itself.")
    listened = set(
        Run.objects.filter(state__in=UNFINISHED, listens_to__in=in_use).values_list(
            "listens_to", flat=True
        )
    )
    since = timezone.now() - SILENT
    silent = [
        one for one in in_use
        if one.pk in listened and (one.last_heard_at is None or one.last_heard_at < since)
    ]  # fmt: skip
    said = tuple(f"{one}: {when_heard(one)}, {clock_words(one)}." for one in in_use)
    words = f"{len(in_use)} in use, {len(listened)} with a run that listens."
    if silent:
        names = ", ".join(str(one) for one in silent)
        return Standing(code, title, LOOK, words, f"Silent during a run: {names}.", said)
    return Standing(code, title, FINE, words, said=said)


def mail() -> Standing:
    title, code = "Mail", "mail"
    if settings.EMAIL_BACKEND.endswith("smtp.EmailBackend"):
        return Standing(code, title, FINE, f"Sent by {settings.EMAIL_HOST}.")
    words = "No mail server is set; mail goes to the server’s own output."
    return Standing(code, title, FINE, words, "EMAIL_URL names one, where mail is wanted.")


def version() -> Standing:
    words = f"{record_version()}, with {connection.display_name}."
    return Standing("version", "Version", FINE, words)


Look = Callable[[], Standing]
VITAL: tuple[Look, ...] = (migrations, evidence_guards, disk)
WATCHED: tuple[Look, ...] = (
    last_backup, last_verification, clocks, failed_sign_ins, devices, mail, version,
)  # fmt: skip

"""The bench log: services, faults, near misses, and a bench in or out of service."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils import timezone

from .. import clock
from ..access import require
from ..lookups.bench_log import upkeep_of
from ..models import (
    Account,
    Bench,
    BenchConfiguration,
    BenchEvent,
    Part,
    PhaseBreak,
    ServicePlan,
    Standardization,
)
from ..problems import check_length, refuse
from .benches import hold_bench
from .history import lapse_approvals, propose_break
from .setup import keep
from .telling import telling_of_change

Kind = BenchEvent.Kind
LOGGED_IN_WORDS = (Kind.REMARK, Kind.SERVICE, Kind.RECALIBRATED)
LONGEST = 400


def _log(bench: Bench, kind: Kind, words: str, *, by: Account, **rest: Any) -> BenchEvent:
    check_length(words, LONGEST, "words")
    now = clock.now()
    about = {"at": now} | rest
    return BenchEvent.objects.create(
        bench=bench, kind=kind, words=words.strip(), by=by, recorded_at=now, **about
    )


def _require_words(words: str, ask: str) -> None:
    if not words.strip():
        raise refuse("words", ask, "words")


def _configuration_at(bench: Bench, at: datetime) -> BenchConfiguration:
    """What the bench consisted of then; refused for the future and before its record."""
    day = f"{timezone.localtime(at):%-d %B %Y, %H:%M}"
    if at > clock.now():
        raise refuse("date", f"{day} is still to come; log it once it has happened.", "at")
    found = bench.configurations.filter(since__lte=at).order_by("-since").first()
    if found is None:
        sentence = f"What {bench} consisted of on {day} is not recorded. Check the date."
        raise refuse("date", sentence, "at")
    return found


@transaction.atomic
def log_event(
    bench: Bench,
    kind: str,
    words: str,
    *,
    by: Account,
    at: datetime | None = None,
    part: Part | None = None,
) -> BenchEvent:
    """Log a remark, a service that no plan asks for, or that the thermometer was recalibrated."""
    require(by, "keep bench log", bench)
    bench, at = hold_bench(bench), at or clock.now()
    if kind not in LOGGED_IN_WORDS:
        raise refuse("kind", f"“{kind}” is not logged this way. Choose what happened.", "kind")
    _require_words(words, "Say in a few words what happened or was done.")
    configuration = _configuration_at(bench, at)
    if kind == Kind.RECALIBRATED:
        part = configuration.thermometer
        _end_approval_by_recalibration(bench, at, words, by)
    return _log(bench, Kind(kind), words, by=by, at=at, part=part)


def _end_approval_by_recalibration(bench: Bench, at: datetime, words: str, by: Account) -> None:
    """Another thermometer scale: the heat capacity found before holds no longer."""
    require(by, "change bench", bench)
    unfinished = bench.standardizations.filter(
        state__in=[*Standardization.EDITABLE, Standardization.State.PUT_FORWARD]
    ).first()
    if unfinished is not None:
        sentence = (
            f"{unfinished} (group {unfinished.group}) is {unfinished.get_state_display()}. Decide "
            "on it or close it first: runs from before and after cannot be averaged."
        )
        raise refuse("unfinished", sentence)
    lapse_approvals(bench, f"Thermometer recalibrated: {words.strip()}", by=by)
    with telling_of_change():
        propose_break(bench, at, PhaseBreak.Cause.THERMOMETER, words.strip(), by=by)


@transaction.atomic
def log_service(
    bench: Bench, plan: ServicePlan, words: str = "", *, by: Account, at: datetime | None = None
) -> BenchEvent:
    """Log that a planned service was done: its firings and days count anew from then."""
    require(by, "keep bench log", bench)
    bench, at = hold_bench(bench), at or clock.now()
    part: Part = getattr(_configuration_at(bench, at), plan.kind)
    if not plan.is_for(part):
        sentence = f"{plan} was not on {bench} then; {part} was. Log it where the part was."
        raise refuse("part", sentence, "plan")
    if plan.events.filter(kind=Kind.SERVICE, part=part, at=at).exists():
        raise refuse("logged", f"{plan} is logged for that moment already.", "at")
    return _log(bench, Kind.SERVICE, words, by=by, at=at, part=part, plan=plan)


@transaction.atomic
def report_fault(bench: Bench, words: str, *, by: Account) -> BenchEvent:
    require(by, "report fault", bench)
    _require_words(words, "Say what is wrong, in a few words.")
    return _log(bench, Kind.FAULT, words, by=by)


@transaction.atomic
def report_near_miss(bench: Bench, words: str, *, by: Account) -> BenchEvent:
    require(by, "report fault", bench)
    _require_words(words, "Say what nearly happened, in a few words. No names are needed.")
    return _log(bench, Kind.NEAR_MISS, words, by=by)


@transaction.atomic
def mend_fault(fault: BenchEvent, words: str, *, by: Account) -> BenchEvent:
    """Close a fault with what was done about it."""
    require(by, "keep bench log", fault.bench)
    bench = hold_bench(fault.bench)
    if fault.kind != Kind.FAULT:
        raise refuse("fault", f"This is a {fault.get_kind_display()}, not a fault.")
    answer = BenchEvent.objects.filter(answers=fault).first()
    if answer is not None:
        day = f"{timezone.localtime(answer.at):%-d %B, %H:%M}"
        raise refuse("mended", f"{answer.by} logged this fault as mended on {day} already.")
    _require_words(words, "Say what was done about the fault.")
    return _log(bench, Kind.MENDED, words, by=by, answers=fault, part=fault.part)


@transaction.atomic
def take_out_of_service(bench: Bench, reason: str, *, by: Account) -> BenchEvent:
    """Nothing is opened or fired on the bench from now on."""
    require(by, "take bench out of service", bench)
    bench = hold_bench(bench)
    if not bench.in_service:
        raise refuse("out of service", f"This bench, {bench.code}, is out of service already.")
    _require_words(reason, "Say why the bench is taken out of service.")
    return _move(bench, Kind.OUT_OF_SERVICE, reason, by)


@transaction.atomic
def return_to_service(bench: Bench, reason: str, *, by: Account) -> BenchEvent:
    require(by, "take bench out of service", bench)
    bench = hold_bench(bench)
    if bench.in_service:
        raise refuse("in service", f"This bench, {bench.code}, is in service already.")
    _require_words(reason, "Say what was done, and why the bench can be used again.")
    return _move(bench, Kind.BACK_IN_SERVICE, reason, by)


def _move(bench: Bench, kind: Kind, reason: str, by: Account) -> BenchEvent:
    bench.in_service = kind == Kind.BACK_IN_SERVICE
    keep(bench, by=by)
    return _log(bench, kind, reason, by=by)


@transaction.atomic
def override_overdue(bench: Bench, reason: str, *, by: Account) -> list[BenchEvent]:
    """Release the bench for today in spite of each service that is overdue now."""
    require(by, "release overdue bench", bench)
    bench = hold_bench(bench)
    overdue = upkeep_of([bench])[bench.pk].overdue
    if not overdue:
        raise refuse("not overdue", f"Nothing overdue keeps {bench} from being released today.")
    _require_words(reason, "Releasing a bench with an overdue service needs its reason.")
    return [
        _log(bench, Kind.RELEASED, reason, by=by, plan=service.plan, part=service.part)
        for service in overdue
    ]

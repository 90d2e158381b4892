"""Readings as a device sends them: each number once, whatever the network does."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.db.models import Max, Min

from .. import clock
from ..intake.device_clock import JUMP_S, DeviceClock
from ..intake.device_posts import DeviceReading, Left
from ..intake.intervals import holds, with_numbers
from ..lookups.devices import listening_runs
from ..models import Device, DeviceSeries, ReadingBlock, Run
from .readings import SMALL, fold_small_blocks, keep_readings
from .typed_readings import COLDEST_C, WARMEST_C


@dataclass(frozen=True)
class Post:
    """What a device sent at once: readings by number, its clock when it sent them."""

    readings: list[DeviceReading]
    sent_at_s: float
    series: str = ""


@dataclass
class Taken:
    """What became of a post: the run, how many readings are new and known, which were left."""

    run: Run | None = None
    taken: int = 0
    known: int = 0
    left: list[Left] = field(default_factory=list)


@transaction.atomic
def note_heartbeat(*, by: Device) -> Device:
    """The device was heard without readings."""
    device = _hold_device(by)
    device.save(update_fields=["last_heard_at"])
    return device


def _hold_device(found: Device) -> Device:
    """The device as it is now, heard now, locked until the transaction ends."""
    devices = Device.objects.select_related("bench", "made_by").select_for_update(of=("self",))
    device = devices.get(pk=found.pk)
    if device.is_revoked:
        raise PermissionDenied("This token was ended.")
    device.last_heard_at = clock.now()
    return device


@transaction.atomic
def take_device_readings(post: Post, *, by: Device) -> Taken:
    """Keep the readings that are new and belong to the run that listens to the device.

    Whatever is left is not marked as received: it may be sent again.
    """
    device = _hold_device(by)
    series, _ = DeviceSeries.objects.select_for_update().get_or_create(
        device=device, name=post.series, defaults={"begun_at": clock.now()}
    )
    series.device = device  # known already: not asked for again
    run = listening_runs(device).select_for_update().first()
    goes_on = run is not None and run.blocks.filter(device=device).exists()
    was_set_back = _is_to_come(by.last_heard_at)
    heard = _hear(series, post, device, hold_offset=goes_on, is_steady=was_set_back)
    if run is not None and was_set_back:
        _move_zero(run, heard)
    given = Taken(run)
    new = _those_new(post, series, given)
    why = _why_none_is_taken(run, device)
    if run is None or why:
        given.left += [Left(reading.seq, "no run", why) for reading in new]
        new = []
    else:
        new = _keep_fitting(run, _began_s(run, goes_on), heard, new, series, given)
    given.taken = len(new)
    series.received = with_numbers(series.received, [reading.seq for reading in new])
    if run is None or not why:  # nothing is learned of the device from a clock that is wrong
        series.clock = heard.as_stored()
    series.save(update_fields=["received", "clock"])
    return given


def _is_to_come(moment: datetime | None) -> bool:
    """Whether this server's own stamp lies ahead of its clock: the clock was set back since."""
    return moment is not None and (moment - clock.now()).total_seconds() > JUMP_S


def _why_none_is_taken(run: Run | None, device: Device) -> str:
    if run is None:
        return f"No run on {device.bench} takes readings of this device now."
    if run.clock_zero_at is None and _is_to_come(run.opened_at):
        return (
            "This server’s clock was set back to before this run was opened. Tell the person who "
            "looks after it, or open another run; the readings may be sent again."
        )
    return ""


def _move_zero(run: Run, heard: DeviceClock) -> None:
    """Where the server's clock was set back, the run's zero goes with it: no reading moves."""
    if run.clock_zero_at is not None and heard.jumped_s:
        run.clock_zero_at -= timedelta(seconds=heard.jumped_s)
        run.save(update_fields=["clock_zero_at"])


def _hear(
    series: DeviceSeries, post: Post, device: Device, *, hold_offset: bool, is_steady: bool
) -> DeviceClock:
    """``is_steady`` when it was the server's clock that was set, not the device's."""
    known = DeviceClock.from_stored(series.clock)
    numbered = [(reading.seq, reading.clock_s) for reading in post.readings]
    now_s = clock.now().timestamp()
    heard = known.heard(post.sent_at_s, now_s, numbered, hold=hold_offset)
    device.clock_offset_s = heard.offset_s
    if heard.jumped_s and not is_steady:
        device.clock_jumped_at, device.clock_jump_s = clock.now(), heard.jumped_s
    device.save(
        update_fields=["last_heard_at", "clock_offset_s", "clock_jumped_at", "clock_jump_s"]
    )
    return heard


def _those_new(post: Post, series: DeviceSeries, given: Taken) -> list[DeviceReading]:
    """The readings whose number was not received before; of two with one number the first."""
    newest = DeviceClock.from_stored(series.clock).newest
    new: dict[int, DeviceReading] = {}
    for reading in post.readings:
        if not holds(series.received, reading.seq) and reading.seq not in new:
            new[reading.seq] = reading
        elif newest and reading.seq <= newest[0] and reading.clock_s > newest[1]:
            given.left.append(Left(reading.seq, "number used", NUMBER_USED))
        else:
            given.known += 1
    return list(new.values())


NUMBER_USED = (
    "This number of the series was taken before, for an earlier reading. Begin another series "
    "whenever the device starts to count again."
)


def _keep_fitting(
    run: Run,
    began_s: float,
    heard: DeviceClock,
    readings: list[DeviceReading],
    series: DeviceSeries,
    given: Taken,
) -> list[DeviceReading]:
    """Keep what was read in this run's time and can be a bucket's temperature, as one block."""
    now_s, typed = clock.now().timestamp(), _typed_span(run)
    kept: list[tuple[DeviceReading, float]] = []
    for reading in readings:
        moment_s = heard.moment_of(reading.clock_s, now_s)
        left = _why_not(reading, moment_s, now_s, began_s, typed)
        if left is None:
            kept.append((reading, moment_s))
        else:
            given.left.append(left)
    if kept:
        _keep(run, series.device, kept, series.name)
    return [reading for reading, _ in kept]


def _why_not(
    reading: DeviceReading,
    moment_s: float,
    now_s: float,
    began_s: float,
    typed: tuple[float, float] | None,
) -> Left | None:
    if not COLDEST_C <= reading.celsius <= WARMEST_C:
        why = f"{reading.value} {reading.unit} is no bucket temperature; −10 to 60 °C was expected."
        return Left(reading.seq, "out of range", why)
    if moment_s < began_s:
        return Left(reading.seq, "before the run", "It is from before this run was opened.")
    if moment_s > now_s + JUMP_S:
        return Left(reading.seq, "still to come", "Its moment, by the device’s clock, is to come.")
    if typed and typed[0] <= moment_s <= typed[1]:
        return Left(reading.seq, "typed", "Readings were typed at that time.")
    return None


def _began_s(run: Run, goes_on: bool) -> float:
    """From when a device's readings are the run's; from its zero, where that was moved back."""
    if run.clock_zero_at is None or not goes_on:
        return run.opened_at.timestamp()
    return min(run.opened_at, run.clock_zero_at).timestamp()


def _typed_span(run: Run) -> tuple[float, float] | None:
    """When the first and the last typed reading came: in between, typing had taken over."""
    typed = run.blocks.filter(source=ReadingBlock.Source.TYPED)
    span = typed.aggregate(first=Min("at"), last=Max("at"))
    return (span["first"].timestamp(), span["last"].timestamp()) if span["first"] else None


def _keep(run: Run, device: Device, kept: list[tuple[DeviceReading, float]], series: str) -> None:
    """One block a post, now and then put together. The first reading sets the clock to zero."""
    if run.clock_zero_at is None:
        run.clock_zero_at = datetime.fromtimestamp(min(moment for _, moment in kept), UTC)
        run.save(update_fields=["clock_zero_at"])
    zero_s = run.clock_zero_at.timestamp()
    times = [round(moment_s - zero_s, 3) for _, moment_s in kept]
    details = [
        _detail(reading, time_s, series) for (reading, _), time_s in zip(kept, times, strict=True)
    ]
    block = keep_readings(
        run, times, [float(reading.celsius) for reading, _ in kept], details,
        ReadingBlock.Source.DEVICE, device.made_by, device=device,
    )  # fmt: skip
    if block.first_number // SMALL != (block.first_number + block.count) // SMALL:
        fold_small_blocks(run)


def _detail(reading: DeviceReading, time_s: float, series: str) -> dict[str, Any]:
    """As a data sheet shows it, and as the device sent it."""
    return {
        "time": f"{time_s:.10g}",
        "temperature": reading.temperature,
        "series": series,
        "seq": reading.seq,
        "clock": reading.clock,
        "value": reading.value,
        "unit": reading.unit,
    }

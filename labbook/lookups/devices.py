"""Devices: whose token it is, which run takes its readings, and when each was last heard."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from django.db.models import F, QuerySet

from .. import clock
from ..access import within_reach
from ..models import Account, Bench, Device, ReadingBlock, Run
from ..models.readings import unpack
from ..typesetting.durations import ago
from ..typesetting.moments import written_moment

HEARD_LATELY = timedelta(seconds=60)
UNFINISHED = (Run.State.OPEN, Run.State.FIRED)
# A gap is worth saying after this, or after half as long again as the device's own interval.
SHORTEST_GAP_S = 6.0
LONGEST_TOKEN = 200


def device_with(token: str) -> Device | None:
    """The device whose token this is, unless it was revoked."""
    if not token or len(token) > LONGEST_TOKEN:
        return None
    devices = Device.objects.select_related("bench", "made_by")
    return devices.filter(token_sha256=Device.digest(token), revoked_at=None).first()


def all_devices() -> QuerySet[Device]:
    """Every device of every bench, those in use first; for those who keep them."""
    return Device.objects.select_related("bench", "made_by", "revoked_by").order_by(
        "bench", "revoked_at", "-made_at"
    )


def devices_in_use(bench: Bench) -> QuerySet[Device]:
    return bench.devices.filter(revoked_at=None).order_by("-last_heard_at", "name")


def heartbeats(bench: Bench) -> list[str]:
    """Each device in use, with when it was last heard: “probe 7, last heard 7 s ago”."""
    return [f"{device.name}, {when_heard(device)}" for device in devices_in_use(bench)]


def device_heard_lately(bench: Bench) -> Device | None:
    """The device a run that opens now should listen to."""
    since = clock.now() - HEARD_LATELY
    return devices_in_use(bench).filter(last_heard_at__gte=since).first()


def listening_runs(device: Device) -> QuerySet[Run]:
    """The open or fired run that takes this device's readings; the first, were there two."""
    runs = Run.objects.filter(bench=device.bench_id, listens_to=device, state__in=UNFINISHED)
    return runs.order_by("-opened_at")


def when_heard(device: Device) -> str:
    """“last heard 7 s ago”, or that it never was."""
    if device.last_heard_at is None:
        return "not heard yet"
    return f"last heard {ago(clock.now() - device.last_heard_at)} ago"


def clock_words(device: Device) -> str:
    """How the device's clock stands to this server's, in words."""
    offset = device.clock_offset_s
    if offset is None:
        return "its clock is not known yet"
    if abs(offset) > FROM_ITS_OWN_START_S:
        return "its clock counts from its own start"
    if abs(offset) < 1:
        return "its clock agrees with this server’s within 1 s"
    which = "behind" if offset > 0 else "ahead of"
    return f"its clock is {ago(timedelta(seconds=abs(offset)))} {which} this server’s"


# No clock set to a time of day is decades out; one that counts from its own start is.
FROM_ITS_OWN_START_S = 1e9


@dataclass(frozen=True)
class Listening:
    """A run and the device it listens to, as its page shows them.

    ``gap_after_s`` is the age from which a missing reading is worth saying.
    """

    device: Device
    newest: str
    read_s: float | None
    heard_s: float | None
    gap_after_s: float
    clock_jumped: bool

    @property
    def heard(self) -> str:
        return when_heard(self.device)

    @property
    def clock(self) -> str:
        return clock_words(self.device)

    @property
    def jump(self) -> str:
        """“3 min forward”."""
        seconds = self.device.clock_jump_s or 0.0
        return f"{ago(timedelta(seconds=abs(seconds)))} {'forward' if seconds > 0 else 'back'}"


def listening_of(run: Run) -> Listening | None:
    device = run.listens_to
    if device is None or run.is_finished:
        return None
    blocks = list(run.blocks.filter(device=device).order_by("-first_number")[:5])
    return Listening(
        device=device,
        newest=_words_of_last(blocks[0]) if blocks else "",
        read_s=_age_s(_read_at(run, blocks[0])) if blocks else None,
        heard_s=_age_s(device.last_heard_at),
        gap_after_s=max(SHORTEST_GAP_S, 1.5 * _interval_s(blocks)),
        clock_jumped=device.clock_jumped_at is not None and device.clock_jumped_at >= run.opened_at,
    )


def _interval_s(blocks: list[ReadingBlock]) -> float:
    """How far apart the device's readings are; 0 while it sent but one."""
    times = np.sort(np.concatenate([unpack(block.times_s) for block in blocks] or [np.empty(0)]))
    return float(np.median(np.diff(times))) if times.size > 1 else 0.0


def _words_of_last(block: ReadingBlock) -> str:
    """“23.1042 °C at 5:12”, the last reading of a block as it is written on the sheet."""
    time_s = float(unpack(block.times_s)[-1])
    return f"{block.read_details()[-1]['temperature']} °C at {written_moment(round(time_s, 1))}"


@dataclass(frozen=True)
class Newer:
    """What came to a run after the last reading a page has, for that page.

    ``written`` are the temperatures as typed or sent. Ages in seconds; ``struck`` counts the
    strikes, so that a page sees when one was added.
    """

    state: str
    newest: str
    times_s: list[float]
    temperatures_c: list[float]
    written: list[str]
    last: int
    struck: int
    heard_s: float | None
    reading_s: float | None


def newer_readings(account: Account, pk: int, number: int) -> Newer | None:
    """The readings after a number of a run within the account's reach; None without such a run."""
    reach = within_reach(account, "see run")
    run = Run.objects.filter(reach, pk=pk).select_related("listens_to").first()
    if run is None:
        return None
    after = F("first_number") + F("count") - 1
    newer = run.blocks.annotate(last=after).filter(last__gt=number).order_by("first_number")
    return _newer(run, list(newer), number)


def _newer(run: Run, blocks: list[ReadingBlock], number: int) -> Newer:
    times: list[float] = []
    found: list[float] = []
    written: list[str] = []
    for block in blocks:
        new = block.numbers > number
        details = block.read_details()[-int(new.sum()) :]
        written += [detail["temperature"] for detail in details]
        times += unpack(block.times_s)[new].tolist()
        found += unpack(block.temperatures_c)[new].tolist()
    last = blocks[-1].first_number + blocks[-1].count - 1 if blocks else number
    heard, read = _last_moments(run)
    newest = _words_of_last(blocks[-1]) if blocks else ""
    struck = run.strikes.count()
    return Newer(
        run.state, newest, times, found, written, last, struck, _age_s(heard), _age_s(read)
    )  # fmt: skip


def _last_moments(run: Run) -> tuple[datetime | None, datetime | None]:
    """When the run's device was last heard, and when its last reading came."""
    device = run.listens_to
    if device is None:
        return None, None
    newest = run.blocks.filter(device=device).order_by("-first_number").first()
    return device.last_heard_at, _read_at(run, newest) if newest else None


def _read_at(run: Run, block: ReadingBlock) -> datetime | None:
    """When the newest reading of a block was made, by this server's clock."""
    if run.clock_zero_at is None:
        return None
    return run.clock_zero_at + timedelta(seconds=float(unpack(block.times_s).max()))


def _age_s(moment: datetime | None) -> float | None:
    return None if moment is None else round((clock.now() - moment).total_seconds(), 1)

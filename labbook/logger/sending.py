"""Sending what waits in the spool, by a thread of its own, for as long as it takes."""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

from .server import Server, TokenRefused, Unreachable
from .spool import Reading, Spool

AT_ONCE = 500
PING_AFTER_S = 5.0
LONGEST_WAIT_S = 30.0
OFFER_AGAIN_AFTER_S = 10.0
# Readings of no run: no fault of theirs, and many.
WITHOUT_A_RUN = ("no run", "before the run")


class Clock:
    """The time of day as it was at the start, carried on by a clock nobody sets."""

    def __init__(self) -> None:
        self._start, self._from = datetime.now(UTC), time.monotonic()

    def now(self) -> str:
        passed = timedelta(seconds=time.monotonic() - self._from)
        return (self._start + passed).isoformat(timespec="milliseconds")


class Sender:
    """Takes readings, keeps them in the spool and sends them.

    Readings no run takes now are put aside: they are offered again once a run takes some.
    """

    def __init__(
        self, server: Server, spool: Spool, say: Callable[[str], None], keep_minutes: float
    ) -> None:
        self._server, self._spool, self._say = server, spool, say
        self._clock, self._keep = Clock(), timedelta(minutes=keep_minutes)
        self._changed = threading.Condition()
        self._aside: dict[tuple[str, int], Reading] = {}
        self._seq, self._series = 0, _fresh_series()
        self._ends, self._offered_at = False, 0.0
        self._said_down, self._said_left = "", ""
        self._thread = threading.Thread(target=self._run, daemon=True)

    def start(self) -> None:
        left = len(self._spool.waiting())
        if left:
            self._say(f"{left} readings from before are still to be sent")
        self._thread.start()

    def add(self, value: str, unit: str) -> None:
        with self._changed:
            self._seq += 1
            self._spool.add(Reading(self._series, self._seq, self._clock.now(), value, unit))
            self._changed.notify()

    def end(self, wait_s: float) -> int:
        """No more readings will come: how many are still unsent after waiting this long."""
        with self._changed:
            self._ends = True
            self._changed.notify()
        self._thread.join(wait_s)
        return len(self._spool.waiting())

    def _run(self) -> None:
        wait_s = 1.0
        while True:
            try:
                if self._step():
                    return
                wait_s = 1.0
            except (Unreachable, TokenRefused, OSError) as error:
                self._say_down(error)
                time.sleep(wait_s * random.uniform(0.8, 1.2))
                wait_s = min(LONGEST_WAIT_S, wait_s * 2)

    def _step(self) -> bool:
        """Send one post, or a ping when nothing waits. True when all is done."""
        with self._changed:
            if not self._next() and not self._ends:
                self._changed.wait(PING_AFTER_S)
            readings = self._next()
            if not readings and self._ends:
                return True
        if readings:
            self._take(readings, self._server.send(readings, self._clock.now()))
        else:
            self._server.ping()
        self._recovered()
        return False

    def _next(self) -> list[Reading]:
        """The oldest that are not put aside, of one series."""
        free = [one for one in self._spool.waiting() if one.key not in self._aside]
        return [one for one in free if one.series == free[0].series][:AT_ONCE]

    def _take(self, readings: list[Reading], answer: dict[str, Any]) -> None:
        """Let go of what was taken or will never be, put aside what no run takes now."""
        left = {one["seq"]: one for one in answer.get("left", [])}
        if "refused" in answer:
            refusal = {"code": "refused", "why": answer["refused"]}
            left = {one.seq: refusal for one in readings}
        self._set_apart(readings, left)
        again = [one for one in readings if left.get(one.seq, {}).get("code") == "no run"]
        with self._changed:
            self._spool.done(one for one in readings if one not in again)
            self._aside |= {one.key: one for one in again}
            self._let_go_of_old()
            if answer.get("taken"):
                self._offer_again()
        self._say_left([left[one.seq]["why"] for one in readings if one.seq in left])

    def _set_apart(self, readings: list[Reading], left: dict[int, dict[str, Any]]) -> None:
        for one in readings:
            found = left.get(one.seq)
            if found is not None and found["code"] not in WITHOUT_A_RUN:
                self._spool.set_apart([one], found["why"])

    def _offer_again(self) -> None:
        if self._aside and time.monotonic() - self._offered_at > OFFER_AGAIN_AFTER_S:
            self._aside.clear()
            self._offered_at = time.monotonic()

    def _let_go_of_old(self) -> None:
        """Readings that no run took for so long belong to none."""
        now = datetime.fromisoformat(self._clock.now())
        old = [
            o for o in self._aside.values() if now - datetime.fromisoformat(o.clock) > self._keep
        ]
        self._spool.done(old)
        for one in old:
            del self._aside[one.key]

    def _say_left(self, whys: list[str]) -> None:
        for why in dict.fromkeys(whys):
            if why != self._said_left:
                self._say(f"{whys.count(why)} readings were not taken: {why}")
        self._said_left = whys[-1] if whys else ""

    def _say_down(self, error: Exception) -> None:
        words = "the token is refused" if isinstance(error, TokenRefused) else str(error)
        if words != self._said_down:
            self._say(f"{words}; readings are kept on this computer and sent later")
        self._said_down = words

    def _recovered(self) -> None:
        if self._said_down:
            self._say(f"the server answers; {len(self._spool.waiting())} readings still to be sent")
        self._said_down = ""


def _fresh_series() -> str:
    """Another name for every start: numbers begin at 1 again."""
    return f"{datetime.now(UTC):%Y%m%dT%H%M%S}-{random.randrange(16**4):04x}"

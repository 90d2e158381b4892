"""What to add to a device's clock to get the server's.

A post says when it was sent by the device's own clock. What the server's clock shows on arrival
minus that is the offset plus the time the post was under way, which is never negative: so the
smallest of the last few differences is the best (Cristian's minimum delay). While readings
of a run come in, the offset is held, so that the intervals between them are those of the device's
clock; it gives way when the clock was set.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

REMEMBERED = 8
JUMP_S = 5.0
"""A clock that differs by more was set; less is the way of the post, or the clock's own drift."""


@dataclass(frozen=True)
class DeviceClock:
    """``offset_s`` is in force, ``recent`` are the last differences, ``newest`` the newest reading.

    ``before_s`` is the offset from before a jump, in the very post that shows the jump: it may
    still hold readings from before it.
    """

    offset_s: float | None = None
    recent: tuple[float, ...] = ()
    newest: tuple[int, float] | None = None
    before_s: float | None = None

    @classmethod
    def from_stored(cls, stored: dict[str, Any]) -> DeviceClock:
        newest = stored.get("newest")
        return cls(
            stored.get("offset_s"),
            tuple(stored.get("recent", ())),
            (int(newest[0]), float(newest[1])) if newest else None,
        )

    def as_stored(self) -> dict[str, Any]:
        return {"offset_s": self.offset_s, "recent": self.recent, "newest": self.newest}

    @property
    def jumped_s(self) -> float:
        """How far the device's clock was set forward in the newest post; 0 when it was not."""
        if self.before_s is None or self.offset_s is None:
            return 0.0
        return self.before_s - self.offset_s

    def heard(
        self,
        sent_at_s: float,
        now_s: float,
        readings: Iterable[tuple[int, float]] = (),
        *,
        hold: bool = False,
    ) -> DeviceClock:
        """The clock after one more post, with the number and clock of each of its readings."""
        ordered = sorted(readings)
        difference = now_s - sent_at_s
        newest = max([*ordered, *([self.newest] if self.newest else [])], default=None)
        if self.offset_s is None:
            return DeviceClock(difference, (difference,), newest)
        set_forward = difference < self.offset_s - JUMP_S
        set_back = difference > self.offset_s + JUMP_S and self._turns_back(ordered)
        earlier = () if set_forward or set_back else self.recent
        recent = (*earlier, difference)[-REMEMBERED:]
        best = min(recent)
        jumped = abs(best - self.offset_s) > JUMP_S and (
            set_forward or set_back or len(recent) == REMEMBERED
        )
        if jumped:
            return DeviceClock(best, recent, newest, before_s=self.offset_s)
        offset = self.offset_s if hold else best
        return replace(self, offset_s=offset, recent=recent, newest=newest, before_s=None)

    def _turns_back(self, ordered: list[tuple[int, float]]) -> bool:
        """Whether a later number carries an earlier clock, by more than a second."""
        later = [one for one in ordered if self.newest is None or one[0] > self.newest[0]]
        row = [*([self.newest] if self.newest else []), *later]
        return any(b[1] < a[1] - 1 for a, b in pairwise(row))

    def moment_of(self, clock_s: float, now_s: float) -> float:
        """When a reading was made, by the server's clock.

        In the post that shows a jump, of the two moments the later that is not still to come.
        """
        assert self.offset_s is not None, "a post was heard"
        offsets = [self.offset_s] if self.before_s is None else [self.offset_s, self.before_s]
        moments = sorted(clock_s + offset for offset in offsets)
        past = [moment for moment in moments if moment <= now_s + JUMP_S / 2]
        return past[-1] if past else moments[0]

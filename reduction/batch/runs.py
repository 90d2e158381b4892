"""Many runs in one piece of memory: their readings put end to end."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reduction.batch.stretches import cut_by_readings
from reduction.errors import InputError

Array = NDArray[np.float64]
Index = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Runs:
    """The readings of many runs, run i from `offsets[i]` up to `offsets[i + 1]`.

    time_s [s] and temperature_c [°C] have shape (readings,), any order within a run, NaN for a
    blank slot; offsets has shape (runs + 1,). The bounds [s], shape (runs,), are NaN where they are
    to be found: the firing from the kink, the settled moment from the curvature, the begin of the
    fore and the end of the after period at the first and the last reading.
    """

    time_s: Array
    temperature_c: Array
    offsets: Index
    fired_at_s: Array
    settled_at_s: Array
    fore_from_s: Array
    after_until_s: Array

    @classmethod
    def of(
        cls,
        time_s: Array,
        temperature_c: Array,
        offsets: Index,
        fired_at_s: Array,
        settled_at_s: Array | None = None,
        fore_from_s: Array | None = None,
        after_until_s: Array | None = None,
    ) -> "Runs":
        """Runs with their shapes checked; raises InputError naming the field that does not fit."""
        offsets = np.asarray(offsets, dtype=np.intp)
        unknown = np.full(max(offsets.size - 1, 0), np.nan)
        bounds = [
            unknown if bound is None else np.asarray(bound, dtype=float)
            for bound in (fired_at_s, settled_at_s, fore_from_s, after_until_s)
        ]
        runs = cls(np.asarray(time_s, float), np.asarray(temperature_c, float), offsets, *bounds)
        runs._check()
        return runs

    def _check(self) -> None:
        ends = self.offsets[[0, -1]].tolist() if self.offsets.size else []
        if ends != [0, self.time_s.size] or (np.diff(self.offsets) < 0).any():
            raise InputError(
                "offsets",
                f"begin and end at {ends}; expected numbers that never fall, from 0 to the "
                f"{self.time_s.size} readings.",
            )
        if self.temperature_c.shape != self.time_s.shape:
            raise InputError(
                "temperature_c",
                f"{self.temperature_c.size} temperatures but {self.time_s.size} times; expected "
                "one temperature for each time.",
            )
        for name in ("fired_at_s", "settled_at_s", "fore_from_s", "after_until_s"):
            size = getattr(self, name).size
            if size != len(self):
                raise InputError(name, f"{size} moments for {len(self)} runs; expected one each.")

    @classmethod
    def join(cls, curves: Iterable[tuple[Array, Array]], **bounds: Array) -> "Runs":
        """Runs from their (times, temperatures) and the bounds known of them."""
        some = [(np.empty(0), np.empty(0)), *curves]
        times, temperatures = (np.concatenate([curve[k] for curve in some]) for k in (0, 1))
        offsets = np.cumsum([len(time) for time, _ in some])
        unknown = {"fired_at_s": np.full(len(some) - 1, np.nan)}
        return cls.of(times, temperatures, offsets, **(unknown | bounds))

    def __len__(self) -> int:
        return self.offsets.size - 1

    def part(self, first: int, last: int) -> "Runs":
        """The runs from first up to last, without copying a reading."""
        begin, end = self.offsets[first], self.offsets[last]
        some = slice(first, last)
        return Runs(
            self.time_s[begin:end],
            self.temperature_c[begin:end],
            self.offsets[first : last + 1] - begin,
            self.fired_at_s[some],
            self.settled_at_s[some],
            self.fore_from_s[some],
            self.after_until_s[some],
        )

    def parts(self, readings: int) -> Iterator["Runs"]:
        """The runs in turn, in parts of about so many readings; one part at least."""
        for some in cut_by_readings(self.offsets[1:], readings):
            yield self.part(some.start, some.stop)

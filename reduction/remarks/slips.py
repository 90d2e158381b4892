"""Single readings that were mistyped: far off their neighbours, and what was likely meant."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reduction.notes import WARN, Note, Thresholds
from reduction.thermogram import Thermogram

Array = NDArray[np.float64]

MOST_DECIMALS = 4
"""Readings with more decimals were not typed: no digits are compared."""
MOST_NOTES = 3
SAME_TIME_S = 1e-6
"""Times closer than this coincide."""


@dataclass(frozen=True)
class Slip:
    """A reading off its neighbours: its position, how far [K], and where they expect it [°C].

    `unmoved_c` is the reading with its decimal mark put back, where that explains it.
    """

    index: int
    off_k: float
    low_c: float
    high_c: float
    unmoved_c: float | None = None


def find_slips(thermogram: Thermogram, limits: Thresholds) -> list[Slip]:
    """Readings with a moved decimal mark, and readings outside what their neighbours allow.

    In order of time. Two slips in a row hide each other: they show among every second reading. Two
    equal readings in a row are no slips, whatever else they are.
    """
    time, temperature = thermogram.time_s, thermogram.temperature_c
    moved = _moved_marks(temperature)
    rest = np.setdiff1d(np.arange(time.size), [slip.index for slip in moved])
    found = {slip.index: slip for slip in moved}
    margin = max(limits.slip_k, limits.slip_sigmas * thermogram.scatter_k)
    single = _off_neighbours(rest, time, temperature, margin)
    halves = [_off_neighbours(rest[start::2], time, temperature, margin) for start in (0, 1)]
    inner = {slip.index for slip in (*halves[0], *halves[1]) if 4 <= slip.index < time.size - 4}
    pairs = [s for s in (*halves[0], *halves[1]) if {s.index - 1, s.index + 1} & inner]
    for slip in (*single, *pairs):
        beside = temperature[max(slip.index - 1, 0) : slip.index + 2]
        if np.count_nonzero(beside == temperature[slip.index]) == 1:
            found.setdefault(slip.index, slip)
    return [found[index] for index in sorted(found)]


def _moved_marks(temperature_c: Array) -> list[Slip]:
    """Readings ten or more times too large or small that fit the others by a power of ten."""
    middle = float(np.median(temperature_c))
    if middle < 1.0:
        return []
    positive = np.where(temperature_c > 0, temperature_c, middle)
    power = np.round(np.log10(positive / middle))
    others = temperature_c[power == 0]
    meant = temperature_c / 10.0**power
    fits = (power != 0) & (meant > others.min() - 1.0) & (meant < others.max() + 1.0)
    return [
        Slip(int(i), float(temperature_c[i] - meant[i]), meant[i], meant[i], float(meant[i]))
        for i in np.flatnonzero(fits)
    ]


def _off_neighbours(
    index: NDArray[np.intp], time_s: Array, temperature_c: Array, margin_k: float
) -> list[Slip]:
    """Readings at `index` outside what the others there allow by a margin and half its width."""
    if index.size < 6:
        return []
    temperature = temperature_c[index]
    low, high = allowed_between(time_s[index], temperature)
    wide = margin_k + (high - low) / 2.0
    off = np.maximum(temperature - high, 0.0) + np.minimum(temperature - low, 0.0)
    low, high = low - wide, high + wide
    return [
        Slip(int(index[i]), float(off[i]), float(low[i]), float(high[i]))
        for i in np.flatnonzero(np.abs(off) > wide)
    ]


def allowed_between(time_s: Array, temperature_c: Array) -> tuple[Array, Array]:
    """Lowest and highest temperature [°C] the neighbours of each reading allow, shape (n,).

    Between its neighbours a curve bent one way runs above the chord and below the extension of
    either side (or the reverse), whatever its shape; at the kink of the firing it follows one side.
    """
    candidates = np.full((3, time_s.size), np.nan)
    candidates[0, 1:-1] = _on_line(
        time_s[1:-1], time_s, temperature_c, slice(0, -2), slice(2, None)
    )
    candidates[1, 2:] = _on_line(time_s[2:], time_s, temperature_c, slice(0, -2), slice(1, -1))
    candidates[2, :-2] = _on_line(time_s[:-2], time_s, temperature_c, slice(2, None), slice(1, -1))
    candidates[0, [0, -1]] = temperature_c[[1, -2]]
    candidates[1, [0, 1]], candidates[2, [-2, -1]] = temperature_c[[2, 0]], temperature_c[[-1, -3]]
    return np.fmin.reduce(candidates), np.fmax.reduce(candidates)


def _on_line(at_s: Array, time_s: Array, temperature_c: Array, far: slice, near: slice) -> Array:
    """The line through two readings each, at the times [s]; the nearer one where they coincide."""
    span, climbed = time_s[near] - time_s[far], temperature_c[near] - temperature_c[far]
    slope = np.divide(climbed, span, out=np.zeros_like(span), where=np.abs(span) > SAME_TIME_S)
    return np.asarray(temperature_c[near] + slope * (at_s - time_s[near]))


def slip_notes(thermogram: Thermogram, slips: list[Slip]) -> list[Note]:
    """One note a slip; from the fourth on only their number."""
    decimals = typed_decimals(thermogram.temperature_c)
    notes = [_note(thermogram, slip, decimals) for slip in slips[:MOST_NOTES]]
    if len(slips) > MOST_NOTES:
        rest = ", ".join(f"{thermogram.time_s[slip.index]:g} s" for slip in slips[MOST_NOTES:][:10])
        notes.append(
            Note(
                "typing_slip",
                WARN,
                f"{len(slips) - MOST_NOTES} more readings stand off their neighbours ({rest}).",
                "Compare them with the sheet or the file.",
            )
        )
    return notes


def _note(thermogram: Thermogram, slip: Slip, decimals: int | None) -> Note:
    read, at = float(thermogram.temperature_c[slip.index]), thermogram.time_s[slip.index]
    shown = f"{read:.{3 if decimals is None else decimals}f}".replace("-", "−")
    side = "above" if slip.off_k > 0 else "below"
    sentence = f"Reading {shown} at {at:g} s stands {abs(slip.off_k):.3g} K {side} its neighbours."
    if slip.unmoved_c is not None:
        return Note("decimal_slip", WARN, sentence, f"Did you mean {slip.unmoved_c:.10g}?")
    meant = None if decimals is None else likely_typed(read, decimals, slip)
    words = "Mistyped?" if meant is None else f"Mistyped {meant}?"
    return Note("typing_slip", WARN, sentence, f"{words} Strike it out and enter what was read.")


def typed_decimals(temperature_c: Array) -> int | None:
    """The decimals nearly all readings were typed with; None where no typing shows."""
    for decimals in range(MOST_DECIMALS + 1):
        exact = np.abs(np.round(temperature_c, decimals) - temperature_c) < 1e-9
        if np.mean(exact) >= 0.9:
            return decimals
    return None


def likely_typed(read: float, decimals: int, slip: Slip) -> str | None:
    """What was likely meant: two digits swapped, else one digit mistyped; None where neither fits.

    Of several fits the one nearest to what the neighbours expect.
    """
    digits = f"{abs(read):.{decimals}f}".replace(".", "")
    swapped = [
        digits[:i] + digits[i + 1] + digits[i] + digits[i + 2 :] for i in range(len(digits) - 1)
    ]
    other = [
        digits[:i] + digit + digits[i + 1 :] for i in range(len(digits)) for digit in "0123456789"
    ]
    expected = (slip.low_c + slip.high_c) / 2.0
    for candidates in (swapped, other):
        values = [np.copysign(int(text) / 10.0**decimals, read) for text in candidates]
        fits = [value for value in values if slip.low_c <= value <= slip.high_c]
        if fits:
            return f"{min(fits, key=lambda value: abs(value - expected)):.{decimals}f}"
    return None


def without(thermogram: Thermogram, slips: list[Slip]) -> Thermogram:
    """The readings that are left when the slips are taken out; all where too few would be left."""
    if not slips or thermogram.time_s.size - len(slips) < 4:
        return thermogram
    kept = np.ones(thermogram.time_s.size, dtype=bool)
    kept[[slip.index for slip in slips]] = False
    return Thermogram(thermogram.time_s[kept], thermogram.temperature_c[kept])

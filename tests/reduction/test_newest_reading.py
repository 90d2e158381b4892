"""The reading just typed: what does not go on from those before it is asked about at once."""

import pytest

from reduction.notes import Note, Thresholds
from reduction.remarks.newest import note_on_newest
from reduction.simulate import thermogram

from .test_sound_curves import sound_firing

FORE = [(15.0 * n, 23.169 + 0.002 * n) for n in range(8)]
AFTER = [(600.0 + 15.0 * n, 25.671 - 0.001 * n) for n in range(8)]


def noted(
    before: list[tuple[float, float]], at_s: float, read: float, fired_at_s: float | None = 300.0
) -> Note | None:
    times, temperatures = zip(*before, strict=True)
    return note_on_newest(
        times, temperatures, at_s, read,
        fired_at_s=fired_at_s, is_fired=fired_at_s is not None, limits=Thresholds(),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("before", "at_s", "read", "said"),
    [
        (FORE, 120.0, 32.185, ("32.185 at 120 s stands 9 K above", "Mistyped 23.185?")),
        (FORE, 120.0, 23.815, ("0.63 K above", "Mistyped 23.185?")),
        (FORE, 120.0, 13.185, ("10 K below", "Mistyped 23.185?")),
        (AFTER, 720.0, 26.563, ("0.9 K above", "Mistyped 25.663?")),
        (AFTER, 720.0, 24.663, ("1 K below", "Mistyped 25.663?")),
    ],
)
def test_what_does_not_go_on_is_asked_about(
    before: list[tuple[float, float]], at_s: float, read: float, said: tuple[str, str]
) -> None:
    note = noted(before, at_s, read)
    assert note is not None and note.severity == "W"
    assert said[0] in note.sentence and note.advice == said[1]


def test_a_step_before_the_firing_is_marked_asks_for_the_mark_too() -> None:
    note = noted(FORE, 120.0, 23.615, fired_at_s=None)
    assert note is not None and "If the charge was fired, mark the firing." in note.advice
    fallen = noted(FORE, 120.0, 22.585, fired_at_s=None)
    assert fallen is not None and "mark the firing" not in fallen.advice


def test_only_readings_before_it_count() -> None:
    assert noted([*FORE, (300.0, 90.0)], 120.0, 23.186) is None
    assert noted(FORE[:1], 15.0, 50.0) is None


def test_the_rise_itself_is_left_in_peace() -> None:
    rise = [*FORE, (300.0, 23.19), (315.0, 23.9), (330.0, 24.4)]
    assert noted(FORE, 315.0, 23.95) is None
    assert noted(rise, 345.0, 24.8) is None


@pytest.mark.parametrize("batch", range(4))
def test_no_reading_of_a_sound_run_is_asked_about(batch: int) -> None:
    asked = []
    for seed in range(10 * batch, 10 * batch + 10):
        times, temperatures = thermogram(sound_firing(seed))
        asked += [
            (seed, times[n])
            for n in range(2, times.size, max(1, times.size // 200))
            if note_on_newest(
                times[:n], temperatures[:n], times[n], temperatures[n],
                fired_at_s=300.0, is_fired=True, limits=Thresholds(),
            )
        ]  # fmt: skip
    assert asked == []
